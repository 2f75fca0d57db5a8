//! A folder with a schedule, a furnace, a key, and a device of that furnace.

use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use tempfile::TempDir;

pub(crate) use crate::run_output::{RunOutput, run_output};
use crate::test_device::TestDevice;

/// A folder with a schedule, a furnace and mostly a key.
pub(crate) struct Bench {
    folder: TempDir,
}

impl Bench {
    /// A folder with the example schedule and furnace.
    pub(crate) fn examples() -> Self {
        let bench = Self { folder: TempDir::new().unwrap() };
        let docs = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs");
        for name in ["schedules/clean-alumina.toml", "furnaces/teaching-door.toml"] {
            let to = bench.path(name);
            std::fs::create_dir_all(to.parent().unwrap()).unwrap();
            std::fs::copy(docs.join(name), to).unwrap();
        }
        std::fs::copy(
            docs.join("schedules/clean-alumina.toml"),
            bench.path("schedules/job.toml"),
        )
        .unwrap();
        bench
    }

    /// A folder with the examples, a new key and a settings image.
    pub(crate) fn new() -> Self {
        let bench = Self::examples();
        assert_eq!(bench.run(&["device", "key", "new", "--out", "bench.key"]).code, 0);
        let made = bench.run(&[
            "device",
            "settings",
            "furnaces/teaching-door.toml",
            "--key",
            "bench.key",
            "--id",
            "bench-7",
            "-o",
            "bench.settings",
        ]);
        assert_eq!(made.code, 0, "{made:#?}");
        bench
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// Starts a device with these settings; a tick takes `pace`.
    pub(crate) fn device(&self, pace: Duration) -> TestDevice {
        let settings = std::fs::read(self.path("bench.settings")).unwrap();
        TestDevice::with(&settings, &self.path("schedules/job.toml"), pace)
    }

    /// Runs the binary here.
    pub(crate) fn run(&self, arguments: &[&str]) -> RunOutput {
        run_output(self.command(arguments).output().unwrap())
    }

    /// Starts the binary here.
    pub(crate) fn start(&self, arguments: &[&str]) -> Child {
        let mut command = self.command(arguments);
        command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap()
    }

    pub(crate) fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_saggar"));
        command.args(arguments).current_dir(self.folder.path()).env("COLUMNS", "40");
        command
    }

    /// Uploads the schedule.
    pub(crate) fn upload(&self, device: &TestDevice, more: &[&str]) -> RunOutput {
        let port = device.port();
        let upload = ["device", "upload", "schedules/job.toml", "--key", "bench.key", "--port"];
        self.run(&[&upload[..], &[&port], more].concat())
    }
}

/// Every line that has a blank fits into a terminal of 40 columns.
#[track_caller]
pub(crate) fn assert_narrow(text: &str) {
    for line in text.lines() {
        let breakable = line.trim().contains(' ');
        assert!(line.chars().count() <= 40 || !breakable, "{line}");
    }
}
