//! Runs the work of a command and turns what comes of it into messages and an exit code.

use std::io;
use std::panic::{AssertUnwindSafe, catch_unwind};

use fallwright::{Budget, Error, Problem, Watch};

use crate::common::Common;
use crate::exit::Exit;
use crate::failure::Failure;
use crate::interrupt;
use crate::log::{self, say};
use crate::outcome::{Outcome, print, print_json, problems_json};
use crate::progress::Progress;

/// Sets the machine up as the flags say and does the work.
pub(crate) fn run(
    common: &Common,
    work: impl FnOnce(&Budget, fallwright::Progress) -> Result<Outcome, Failure>,
) -> Exit {
    run_watched(common, |budget, watch| work(budget, &|words| watch.step(words)))
}

/// The same with work that reports how much of it is done.
pub(crate) fn run_watched(common: &Common, work: impl FnOnce(&Budget, &dyn Watch) -> Result<Outcome, Failure>) -> Exit {
    let progress = Progress::start(!common.quiet);
    log::start(common.level(), &progress);
    let result = set_up(common, &progress).and_then(|()| {
        let work = || work(&common.budget(), &progress);
        catch_unwind(AssertUnwindSafe(work)).unwrap_or_else(|_| Err(after_panic()))
    });
    progress.finish();
    let reported = match &result {
        Ok(outcome) => report(common, outcome),
        Err(failure) => report_failure(common, failure),
    };
    reported.unwrap_or_else(|error| {
        say(&format!("error: standard output cannot be written: {error}"));
        Exit::Failed
    })
}

fn set_up(common: &Common, progress: &Progress) -> Result<(), Failure> {
    interrupt::watch(progress.clone())
        .map_err(|error| Failure::Failed(format!("interrupts cannot be caught: {error}")))?;
    let threads = common.threads.map_or(0, usize::from);
    rayon::ThreadPoolBuilder::new()
        .num_threads(threads)
        .build_global()
        .map_err(|error| Failure::Failed(format!("the threads cannot be started: {error}")))
}

/// The panic's own message is already on standard error.
fn after_panic() -> Failure {
    fallwright::remove_partial_output();
    Failure::Failed("this is a fault of the program; nothing half-written was left".to_owned())
}

fn report(common: &Common, outcome: &Outcome) -> io::Result<Exit> {
    if common.json {
        print_json(&outcome.json)?;
    } else {
        print(&outcome.lines.iter().map(|line| log::without_controls(line, &[]) + "\n").collect::<String>())?;
    }
    if outcome.undecided > 0 {
        say(&format!("--strict: {} undecided", count(outcome.undecided, "parcel is", "parcels are")));
        return Ok(Exit::Undecided);
    }
    Ok(Exit::Done)
}

fn report_failure(common: &Common, failure: &Failure) -> io::Result<Exit> {
    if let Failure::Library(Error::Refused(problems)) = failure {
        report_problems(problems);
        if common.json {
            print_json(&problems_json(problems))?;
        }
    } else {
        say(&format!("error: {failure}"));
    }
    Ok(failure.exit())
}

fn report_problems(problems: &[Problem]) {
    for problem in problems {
        say(&problem.to_string());
    }
    say(&format!("{} found; nothing was written", count(problems.len(), "problem", "problems")));
}

fn count(number: usize, one: &str, many: &str) -> String {
    format!("{number} {}", if number == 1 { one } else { many })
}
