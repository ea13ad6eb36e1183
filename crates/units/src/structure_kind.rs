/// What a mapped structure that carries water is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum StructureKind {
    Culvert,
    /// A tile main or an enclosed drain.
    Pipe,
}
