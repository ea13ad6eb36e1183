//! Ctrl-C and its like: nothing half-written stays behind.

use std::io;
use std::panic::catch_unwind;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;

use signal_hook::consts::{SIGHUP, SIGINT, SIGTERM, SIGXFSZ};
use signal_hook::iterator::Signals;

use crate::exit::Exit;
use crate::log::say;
use crate::progress::Progress;

static INTERRUPTED: AtomicBool = AtomicBool::new(false);

/// From here on an interrupt removes the output under way and ends the program.
///
/// # Errors
/// The system does not let the signals be caught.
pub(crate) fn watch(progress: Progress) -> io::Result<()> {
    // With a handler, a file that grows past the system's limit is an error of the write and not the end of the process.
    signal_hook::flag::register(SIGXFSZ, Arc::new(AtomicBool::new(false)))?;
    let mut signals = Signals::new([SIGINT, SIGTERM, SIGHUP])?;
    thread::Builder::new().name("interrupt".to_owned()).spawn(move || {
        if signals.forever().next().is_some() {
            INTERRUPTED.store(true, Ordering::SeqCst);
            progress.finish();
            let removed = catch_unwind(fallwright::remove_partial_output).is_ok();
            say(if removed { "interrupted; nothing half-written was left" } else { "interrupted" });
            // Not the usual exit: its hooks would tear down GDAL under threads that still use it.
            signal_hook::low_level::exit(Exit::Interrupted as i32);
        }
    })?;
    Ok(())
}

/// An interrupted run may fail for want of the files just removed; its exit code is that of the interrupt all the same.
pub(crate) fn wait_if_interrupted() {
    while INTERRUPTED.load(Ordering::SeqCst) {
        thread::park();
    }
}
