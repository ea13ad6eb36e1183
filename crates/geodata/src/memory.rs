//! The memory of this process.

/// Gives memory that is free, but kept for what may be asked for next, back to the system, which counts it as this process's
/// until then. Does nothing where the C library is not GNU's.
pub fn release_free_memory() {
    #[cfg(all(target_os = "linux", target_env = "gnu"))]
    // SAFETY: any number of threads may call it at any time.
    unsafe {
        libc::malloc_trim(0);
    }
}
