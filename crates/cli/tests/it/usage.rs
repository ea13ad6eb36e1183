use crate::fallwright;

/// The words of a command line that cannot be followed, and what the message must name.
fn check(args: &str, named: &str) {
    let ran = fallwright(args.split_whitespace());
    assert_eq!((ran.code, ran.stdout.as_str()), (Some(2), ""), "{args}: {ran:?}");
    assert!(ran.stderr.contains(named), "{args}: {ran:?}");
}

#[test]
fn a_command_must_be_named() {
    check("", "Usage: fallwright <COMMAND>");
    check("nonsense", "unrecognized subcommand 'nonsense'");
    check("outlet case.toml", "'outlets'");
}

#[test]
fn what_a_command_needs_must_be_there() {
    check("demo", "<DIR>");
    check("check", "<CASE>");
    check("outlets case.toml", "--out <DIR>");
    check("terrain dem.tif", "--out <DIR>");
    check("completions", "<SHELL>");
    check("man", "<DIR>");
}

#[test]
fn a_watershed_has_one_place() {
    check("watershed case.toml --out results", "<--outlet <ID>|--at <X,Y>>");
    check("watershed case.toml --outlet D-07 --at 1,2 --out results", "cannot be used with");
    check("watershed case.toml --outlet D-07 --snap 20 --out results", "cannot be used with");
    check("watershed case.toml --outlet D-07 --lonlat --out results", "cannot be used with");
    check("watershed case.toml --snap 20 --out results", "<--outlet <ID>|--at <X,Y>>");
    check("watershed case.toml --outlet= --out results", "--outlet");
}

#[test]
fn a_trace_has_one_start() {
    check("trace case.toml", "<--parcel <ID>|--at <X,Y>>");
    check("trace case.toml --parcel 1 --at 1,2", "cannot be used with");
    check("trace case.toml --parcel 1 --lonlat", "cannot be used with");
}

#[test]
fn values_are_checked_before_anything_is_read() {
    check("trace case.toml --at 1;2", "two numbers with a comma between");
    check("trace case.toml --at nan,2", "two numbers with a comma between");
    check("watershed case.toml --at 1,2 --snap -3 --out results", "metres, 0 or more");
    check("check case.toml --threads 0", "1..=1024");
    check("check case.toml --threads 2000", "1..=1024");
    check("check case.toml --max-memory 2", "a size needs a unit");
    check("check case.toml --max-memory 0MB", "out of range");
    check("check case.toml -q -v", "cannot be used with");
    check("terrain dem.tif --vertical-unit inch --out results", "m, ft, us-ft");
    check("completions basic", "bash");
}
