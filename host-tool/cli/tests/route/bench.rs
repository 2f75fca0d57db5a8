//! A folder, a key, and a stand-in that runs in it.

use std::collections::BTreeMap;
use std::io::{BufRead, BufReader, Read};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, Command, Stdio};
use std::time::{Duration, Instant};

use serde_json::Value;
use tempfile::TempDir;

pub(crate) use crate::run_output::{RunOutput, run_output};

const BINARY: &str = env!("CARGO_BIN_EXE_saggar");

/// A firing of some minutes: long enough to heat, short enough for a slow serial port.
pub(crate) const SHORT: &str = r#"name = "Warm the empty table"
furnace = "FURNACE"

[work]
body = "alumina"
wall_millimetre = 0.5
area_square_millimetre = 220

[[stage]]
ramp = { to_celsius = 180, kelvin_per_minute = 60 }

[[stage]]
vacuum = { from_celsius = 150, to_hectopascal = 80, within_minutes = 3, until_end_of = "hold" }

[[stage]]
soak = { minutes = 2, band_kelvin = 20, patience_minutes = 10 }
name = "hold"
"#;

/// A folder with a key in it.
pub(crate) struct Bench {
    folder: TempDir,
}

impl RunOutput {
    pub(crate) fn json(&self) -> Value {
        serde_json::from_str(&self.out).unwrap_or_else(|why| panic!("{why}: {self:#?}"))
    }
}

pub(crate) fn docs() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs").canonicalize().unwrap()
}

impl Bench {
    /// Makes the folder and the key.
    pub(crate) fn new() -> Self {
        let bench = Self { folder: TempDir::new().unwrap() };
        assert_eq!(bench.run(&["device", "key", "new", "--out", "d.key"]).code, 0);
        bench
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// The short schedule, for the furnace with the lift.
    pub(crate) fn short(&self) -> PathBuf {
        let furnace = docs().join("furnaces/lift-vacuum.toml");
        let path = self.path("short.toml");
        std::fs::write(&path, SHORT.replace("FURNACE", &furnace.display().to_string()))
            .unwrap();
        path
    }

    pub(crate) fn run(&self, args: &[&str]) -> RunOutput {
        run_in(self.folder.path(), args)
    }

    /// Uploads a schedule that `rehearse --out trial` has cleared.
    pub(crate) fn upload(&self, schedule: &str, port: &str) -> RunOutput {
        let clearance = ["--clearance", "trial/clearance.json"];
        let to = ["--port", port, "--key", "d.key", "--json"];
        self.run(&[&["device", "upload", schedule], &clearance[..], &to[..]].concat())
    }

    /// Starts a stand-in for one firing, with a simulated operator; returns it and its port.
    pub(crate) fn standin(&self, schedule: &Path, more: &[&str]) -> (Running, String) {
        let once = ["--key", "d.key", "--operator", "--once", "--speed", "max", "--json"];
        self.spawn_standin(schedule, &[&once[..], more].concat())
    }

    /// Starts a stand-in for the furnace of this schedule; returns it and its port.
    pub(crate) fn spawn_standin(&self, schedule: &Path, args: &[&str]) -> (Running, String) {
        let mut child = Command::new(BINARY)
            .arg("standin")
            .arg(schedule)
            .args(args)
            .current_dir(self.folder.path())
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut stderr = BufReader::new(child.stderr.take().unwrap());
        let mut lines = String::new();
        let port = loop {
            let mut line = String::new();
            assert_ne!(stderr.read_line(&mut line).unwrap(), 0, "the stand-in ended: {lines}");
            lines.push_str(&line);
            if let Some(port) = line.strip_prefix("Listens at ") {
                break port.split([';', '\n']).next().unwrap().to_owned();
            }
        };
        // Drains the pipe, so that the stand-in never waits for it.
        let stderr = std::thread::spawn(move || {
            let _ = stderr.read_to_string(&mut lines);
            lines
        });
        (Running { child, stderr: Some(stderr) }, port)
    }
}

/// Runs the binary in a folder.
pub(crate) fn run_in(folder: &Path, args: &[&str]) -> RunOutput {
    let mut command = Command::new(BINARY);
    run_output(command.args(args).current_dir(folder).stdin(Stdio::null()).output().unwrap())
}

/// A running stand-in.
pub(crate) struct Running {
    child: Child,
    stderr: Option<std::thread::JoinHandle<String>>,
}

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Running {
    /// Its keyboard.
    pub(crate) fn keyboard(&mut self) -> ChildStdin {
        self.child.stdin.take().unwrap()
    }

    /// Its process id.
    pub(crate) fn id(&self) -> u32 {
        self.child.id()
    }

    /// Kills it; returns its messages.
    pub(crate) fn stop(mut self) -> String {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
        self.stderr.take().unwrap().join().unwrap()
    }

    /// Waits for its end, for this time at most.
    pub(crate) fn end_within(mut self, time_max: Duration) -> RunOutput {
        let since = Instant::now();
        while self.child.try_wait().unwrap().is_none() {
            assert!(since.elapsed() < time_max, "it does not end");
            std::thread::sleep(Duration::from_millis(20));
        }
        self.end()
    }

    /// Waits for its end.
    pub(crate) fn end(mut self) -> RunOutput {
        let mut out = String::new();
        self.child.stdout.take().unwrap().read_to_string(&mut out).unwrap();
        let code = self.child.wait().unwrap().code().unwrap_or(-1);
        RunOutput { code, out, err: self.stderr.take().unwrap().join().unwrap() }
    }
}

/// The outcome of each subject in a verdict.
pub(crate) fn outcomes(verdict: &Value) -> BTreeMap<String, String> {
    let text = |value: &Value| value.as_str().unwrap().to_owned();
    let findings = verdict["findings"].as_array().unwrap();
    findings.iter().map(|f| (text(&f["subject"]), text(&f["outcome"]))).collect()
}

/// Checks, rehearses, uploads, fires, records and replays a schedule, and compares the results.
/// Returns the stand-in's result.
pub(crate) fn route(bench: &Bench, schedule: &Path, more: &[&str]) -> Value {
    let name = schedule.display().to_string();
    assert_eq!(bench.run(&["check", &name]).code, 0);
    let rehearsed = bench.run(&["rehearse", &name, "--out", "trial", "--json"]);
    assert!([0, 1, 3].contains(&rehearsed.code), "{rehearsed:#?}");
    let (running, port) = bench.standin(schedule, more);

    let at = port.clone();
    let folder = bench.folder.path().to_owned();
    let serial = more.contains(&"--serial");
    let uploaded = bench.upload(&name, &port);
    assert_eq!(uploaded.code, 0, "{uploaded:#?}");
    let recorder = std::thread::spawn(move || {
        Command::new(BINARY)
            .args(["device", "watch", "--port", &at, "--record", "it.firing", "--until-end"])
            // The stand-in does not return after its end.
            .args(["--give-up", "0.1"])
            .args(["--json"])
            .current_dir(folder)
            .stdin(Stdio::null())
            .output()
            .unwrap()
    });
    let ended = running.end();
    assert_eq!(ended.code, rehearsed.code, "{ended:#?}");
    let watched = recorder.join().unwrap();
    let replayed = bench.run(&["replay", "it.firing", "--json"]);
    assert_eq!(replayed.code, 0, "{replayed:#?} {watched:#?}");
    let compared = replayed.json()["compared"].as_u64().unwrap();
    // From the recorder's first tick on none is lost, because the stand-in waits for slow readers.
    // An emulated serial port does not wait, so ticks may be lost there.
    let lost = replayed.json()["gaps"].as_array().unwrap().len();
    assert!(serial || (compared > 100 && lost == 0), "{replayed:#?} {watched:#?}");
    if lost == 0 {
        let args = ["replay", "it.firing", "--schedule", &name, "--json"];
        let judged = bench.run(&args);
        assert_eq!(judged.code, rehearsed.code, "{judged:#?} {watched:#?}");
        let mut from_record = outcomes(&judged.json()["verdict"]);
        let agreement = from_record.remove("Simulated sensor");
        assert_eq!(agreement.as_deref(), Some("note"), "{judged:#?}");
        assert_eq!(from_record, outcomes(&rehearsed.json()), "{judged:#?}");
    }

    let result = ended.json();
    assert_eq!(outcomes(&result["verdict"]), outcomes(&rehearsed.json()), "{result:#}");
    assert_eq!(result["verdict"]["digest"], rehearsed.json()["digest"]);
    result
}
