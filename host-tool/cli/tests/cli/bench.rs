//! A folder with a valid schedule, and the binary to run there.

use std::path::{Path, PathBuf};
use std::process::Command;

use tempfile::TempDir;

pub(crate) use crate::run_output::{RunOutput, run_output};

/// A valid schedule. Tests rely on its line numbers.
pub(crate) const GOOD: &str = r#"name = "Coping"
furnace = "furnace.toml"

[work]
body = "alumina"
wall_millimetre = 0.5
area_square_millimetre = 220

[work.coat]
glass = "lanthanum-glass"
thickness_millimetre = 0.38

[[stage]]
ramp = { to_celsius = 300, kelvin_per_minute = 10 }

[[stage]]
vacuum = { from_celsius = 600, to_hectopascal = 50, within_minutes = 3, until_end_of = "infiltrate" }

[[stage]]
ramp = { to_celsius = 1120, minutes = 20 }

[[stage]]
soak = { minutes = 30, band_kelvin = 5 }
name = "infiltrate"

[[stage]]
cool = { below_celsius = 450 }

[[stage]]
opening = { position = "open", minutes = 5 }
"#;

/// The repository's documents.
pub(crate) fn docs() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs")
}

/// A valid furnace profile.
pub(crate) fn good_furnace() -> String {
    include_str!("furnace.toml").to_owned()
}

/// A folder to work in.
pub(crate) struct Bench {
    folder: TempDir,
}

impl Bench {
    /// A folder with the furnace, and this schedule as `job.toml`.
    pub(crate) fn with(schedule: impl AsRef<[u8]>) -> Self {
        let bench = Self { folder: TempDir::new().unwrap() };
        bench.write("furnace.toml", good_furnace());
        bench.write("job.toml", schedule);
        bench
    }

    /// A folder with the valid schedule and one change in it.
    #[track_caller]
    pub(crate) fn changed(from: &str, to: &str) -> Self {
        assert!(GOOD.contains(from), "the good schedule has no {from}");
        Self::with(GOOD.replacen(from, to, 1))
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub(crate) fn write(&self, name: &str, bytes: impl AsRef<[u8]>) {
        std::fs::write(self.path(name), bytes).unwrap();
    }

    /// Runs the binary here.
    pub(crate) fn run(&self, arguments: &[&str]) -> RunOutput {
        let mut command = Command::new(env!("CARGO_BIN_EXE_saggar"));
        command.args(arguments).current_dir(self.folder.path()).env_remove("COLUMNS");
        run_output(command.output().unwrap())
    }

    /// Asserts that `check` refuses `job.toml` with one diagnostic: its location, message and cure.
    #[track_caller]
    pub(crate) fn refuses(&self, location: &str, message: &str, cure: &str) {
        let result = self.run(&["check", "job.toml"]);
        assert_eq!(result.code, 2, "{result:#?}");
        assert_eq!(result.out, "", "diagnostics go to standard error");
        let start = format!("{location}: ");
        let (first, rest) = result.err.split_once('\n').unwrap();
        assert!(first.starts_with(&start) && first.contains(message), "{result:#?}");
        let help = rest.lines().next().unwrap();
        assert!(help.starts_with("    help: ") && help.contains(cure), "{result:#?}");
        assert!(rest.ends_with("\n1 error in 1 file\n"), "{result:#?}");
    }
}
