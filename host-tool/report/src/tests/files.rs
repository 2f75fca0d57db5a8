//! The files for programs, and saving a report to a folder.

use saggar_bench::trace::COLUMNS;

use crate::FILES;
use crate::fixture::{report, trace, tripped};
use crate::save;

#[test]
fn trace_csv_has_every_row_and_column() {
    let mut trace = tripped();
    trace.rows[7].modelled.as_mut().expect("of a rehearsal").pressure_pa = f64::NAN;
    let mut bytes = Vec::new();
    report(&trace, true).csv(&mut bytes).expect("written");
    let mut reader = csv::Reader::from_reader(bytes.as_slice());
    let names: Vec<&str> = COLUMNS.iter().map(|column| column.name).collect();
    assert_eq!(reader.headers().expect("headers").iter().collect::<Vec<_>>(), names);
    let rows: Vec<csv::StringRecord> =
        reader.records().map(|row| row.expect("a row")).collect();
    assert_eq!(rows.len(), trace.rows.len());
    for (row, sample) in rows.iter().zip(&trace.rows) {
        for (cell, column) in row.iter().zip(&COLUMNS) {
            match (column.value)(sample).filter(|value| value.is_finite()) {
                Some(value) => {
                    let read: f64 = cell.parse().expect("a number");
                    assert!((read - value).abs() <= 5.1e-7, "{read} is not {value}");
                }
                None => assert_eq!(cell, ""),
            }
        }
    }
}

#[test]
fn verdict_json_names_its_schema_and_has_all_fields() {
    let trace = trace();
    let json = report(&trace, false).json().expect("JSON");
    let json: serde_json::Value = serde_json::from_str(&json).expect("reads");
    assert_eq!((&json["schema"], &json["version"]), (&"saggar.verdict".into(), &3.into()));
    assert_eq!((&json["passed"], &json["rows"]), (&false.into(), &7200.into()));
    assert_eq!(json["result"], "fail");
    assert_eq!(json["findings"][2]["measured"], 0.81e-3);
    assert_eq!(json["findings"][2]["unit"], "metre");
    assert!(json["findings"][0]["measured"].is_null());
    assert_eq!(json["events"][1]["text"], "Stage 1 began: Dry");
    let fourth = &json["stages"][3];
    assert_eq!((&fourth["number"], &fourth["step"]), (&5.into(), &4.into()));
    assert_eq!(
        (&json["duration_second"], &json["energy_joule"]),
        (&7199.0.into(), &4.93e6.into())
    );
}

#[test]
fn the_duration_is_of_the_firing_and_not_of_the_trace() {
    let trace = tripped();
    let report = report(&trace, false);
    let json: serde_json::Value =
        serde_json::from_str(&report.json().expect("JSON")).expect("reads");
    assert_eq!((&json["duration_second"], &json["rows"]), (&4000.3.into(), &7200.into()));
    assert!(report.html().expect("page").contains("<dd>1\u{a0}h 06\u{a0}min 40\u{a0}s</dd>"));
}

#[test]
fn saving_replaces_all_files_or_none_and_explains_errors() {
    let folder = tempfile::tempdir().expect("a folder");
    let trace = trace();
    let inner = folder.path().join("deep").join("er");
    for passed in [true, false] {
        let saved = save(&inner, &report(&trace, passed), false, None).expect("saved");
        let page = std::fs::read_to_string(&saved.html).expect("reads");
        assert_eq!(page.contains("✓ Pass</strong>"), passed);
        assert_eq!(saved.png, None);
    }
    let names =
        std::fs::read_dir(&inner).expect("lists").map(|e| e.expect("entry").file_name());
    let mut names: Vec<String> = names.map(|n| n.to_string_lossy().into_owned()).collect();
    names.sort_unstable();
    let mut wanted = FILES.map(String::from).to_vec();
    wanted.retain(|name| name != "chart.png");
    wanted.push(".saggar-lock".to_owned());
    wanted.sort_unstable();
    assert_eq!(names, wanted, "nothing is left over");

    // A folder has the name of one file, so no other file may change.
    std::fs::remove_file(inner.join("trace.csv")).expect("removed");
    std::fs::create_dir(inner.join("trace.csv")).expect("made");
    let before = std::fs::read(inner.join("report.html")).expect("reads");
    let text =
        save(&inner, &report(&trace, true), false, None).expect_err("a folder").to_string();
    assert!(text.contains("trace.csv cannot be written: a folder has this name"), "{text}");
    assert_eq!(std::fs::read(inner.join("report.html")).expect("reads"), before);
    assert_eq!(std::fs::read_dir(&inner).expect("lists").count(), wanted.len());

    let blocked = inner.join(FILES[0]).join("under a file");
    let error =
        save(&blocked, &report(&trace, true), false, None).expect_err("a file is no folder");
    let text = error.to_string();
    assert!(text.contains("under a file") && text.contains("name another folder"), "{text}");
}

#[test]
fn saving_removes_files_of_an_earlier_run_and_keeps_others() {
    let folder = tempfile::tempdir().expect("a folder");
    let old = ["chart.png", "clearance.json"].map(|name| folder.path().join(name));
    let own = folder.path().join("notes.txt");
    for path in old.iter().chain([&own]) {
        std::fs::write(path, b"of another rehearsal").expect("written");
    }
    save(folder.path(), &report(&trace(), true), false, None).expect("saved");
    assert!(
        !old.iter().any(|path| path.exists()),
        "a file of an earlier rehearsal is still there"
    );
    assert!(own.exists());
}

#[cfg(feature = "png")]
#[test]
fn the_png_shows_the_drawing_and_is_below_a_megabyte() {
    let folder = tempfile::tempdir().expect("a folder");
    let saved = save(folder.path(), &report(&trace(), true), true, None).expect("saved");
    let bytes = std::fs::read(saved.png.expect("a picture")).expect("reads");
    assert!(bytes.len() < 1_000_000, "{} bytes", bytes.len());
    let decoder = png::Decoder::new(std::io::Cursor::new(bytes));
    let mut reader = decoder.read_info().expect("a picture");
    let mut pixels = vec![0; reader.output_buffer_size().expect("a size")];
    let info = reader.next_frame(&mut pixels).expect("pixels");
    assert_eq!(info.color_type, png::ColorType::Rgb);
    assert!(info.width >= 1000 && info.height >= 1000, "{info:?}");
    // The corner has the background colour, and some pixel is dark.
    assert!(pixels[..3].iter().all(|&part| part > 240), "{:?}", &pixels[..3]);
    assert!(pixels.chunks(3).any(|pixel| pixel.iter().all(|&part| part < 64)), "no ink");
}
