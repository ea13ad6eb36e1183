"""What must hold of the outputs of any case, each found by walking over them. Every module yields what does not hold, as text."""
