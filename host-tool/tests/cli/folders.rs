//! The name of the folder of a report.

use std::fs;
use std::path::Path;

use super::bench::{Bench, good_furnace};
use super::rehearsals::{SHORT, folders};

/// The names of the files in a folder.
fn files(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap());
    let files = entries.filter(|entry| entry.file_type().unwrap().is_file());
    let mut names: Vec<_> = files.map(|file| file.file_name().into_string().unwrap()).collect();
    names.retain(|name| !name.starts_with(".saggar-"));
    names.sort();
    names
}

#[test]
fn a_schedule_whose_name_makes_none_for_a_folder_writes_nothing() {
    let bench = Bench::with(SHORT);
    for name in ["...toml", "..toml", ". .toml", "....toml"] {
        bench.write(name, SHORT);
        let said = bench.run(&["rehearse", name]);
        assert_eq!((said.code, said.out.as_str()), (2, ""), "{name}: {said:#?}");
        assert!(said.err.contains("--out"), "{name}: {}", said.err);
        assert!(!bench.path("rehearsals").exists(), "{name}");
        let upload = ["device", "upload", name, "--port", "tcp:127.0.0.1:9", "--key", "k"];
        bench.run(&["device", "key", "new", "--out", "k"]);
        assert!(bench.run(&upload).err.contains("--clearance"), "{name}");
        assert_eq!(bench.run(&["rehearse", name, "--out", "named"]).code, 0, "{name}");
        fs::remove_file(bench.path(name)).unwrap();
    }
    assert_eq!(files(&bench.path(".")), ["furnace.toml", "job.toml", "k"]);
}

#[test]
fn a_report_stays_in_a_folder_of_its_own_whatever_the_schedule_is_called() {
    let bench = Bench::with(SHORT);
    let long = format!("{}.toml", "ä".repeat(122));
    for (name, start) in [
        ("CON.toml", "_CON+"),
        ("con.aux.toml", "_con.aux+"),
        ("lpt1.toml", "_lpt1+"),
        ("ends. .toml", "ends+"),
        (" begins.toml", "begins+"),
        ("a:b?.toml", "a_b_+"),
        ("a\\b.toml", "a_b+"),
        ("bell\u{7}\n.toml", "bell__+"),
        ("un\u{202e}seen.toml", "un_seen+"),
        (long.as_str(), "ä"),
    ] {
        bench.write(name, SHORT);
        let said = bench.run(&["rehearse", name]);
        assert_eq!(said.code, 0, "{name:?}: {said:#?}");
        let made = folders(&bench);
        let [folder] = made.as_slice() else { panic!("{name:?}: {made:?}") };
        assert!(folder.starts_with(start) && folder.len() <= 160, "{name:?}: {folder}");
        let digest = folder.rsplit('+').next().unwrap();
        assert!(digest.len() == 8 && digest.bytes().all(|b| b.is_ascii_hexdigit()), "{folder}");
        assert_eq!(files(&bench.path("rehearsals").join(folder)).len(), 6, "{name:?}");
        fs::remove_dir_all(bench.path("rehearsals")).unwrap();
        fs::remove_file(bench.path(name)).unwrap();
    }
    assert_eq!(files(&bench.path(".")), ["furnace.toml", "job.toml"]);

    // Names that are fine stay as they are.
    for (name, folder) in [("Müller 2.1.toml", "Müller 2.1"), (".hidden.toml", ".hidden")] {
        bench.write(name, SHORT);
        assert_eq!(bench.run(&["rehearse", name]).code, 0, "{name}");
        assert_eq!(folders(&bench), [folder]);
        fs::remove_dir_all(bench.path("rehearsals")).unwrap();
    }
    // A profile's name is part of the folder's.
    bench.write("odd: one.toml", good_furnace());
    assert_eq!(bench.run(&["rehearse", "job.toml", "--furnace", "odd: one.toml"]).code, 0);
    assert_eq!(folders(&bench)[0].len(), "job+12345678".len(), "{:?}", folders(&bench));
}
