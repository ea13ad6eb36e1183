//! What the interrupt handler calls works on the whole process, hence a test binary of its own.

use fallwright_geodata::{OutputFolder, remove_partial_output};

#[test]
fn an_interrupt_leaves_nothing_behind() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("new/out");
    let mut output = OutputFolder::create(&path, false).expect("an output folder");
    output.write_bytes("a.txt", b"a").expect("a file");
    std::thread::scope(|scope| {
        scope.spawn(remove_partial_output);
    });
    assert_eq!(std::fs::read_dir(folder.path()).expect("the folder").count(), 0);
    assert!(output.write_bytes("b.txt", b"b").is_err());
    assert!(output.commit().is_err());
    assert_eq!(std::fs::read_dir(folder.path()).expect("the folder").count(), 0);
}
