//! Opens a page in a Chromium without a window and gives back what became of it.

use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::time::{Duration, Instant};

/// A browser that takes longer hangs.
const PATIENCE: Duration = Duration::from_secs(120);

/// What became of a page.
pub(super) struct Seen {
    /// The document after its scripts ran.
    pub(super) document: String,
    /// The lines of the browser's log that the page caused.
    pub(super) console: String,
}

impl Seen {
    /// The page's script came to its end and nothing complained.
    pub(super) fn ran(&self) {
        assert_eq!(self.console, "", "the console should be empty");
        assert!(self.document.contains("data-ready=\"yes\""), "the script did not end well");
    }
}

/// Opens a page; `None` where there is no Chromium and the tests may do without.
pub(super) fn open(page: &str) -> Option<Seen> {
    let Some(browser) = find() else {
        do_without(std::env::var_os("CI").is_some_and(|value| !value.is_empty()));
        return None;
    };
    let folder = tempfile::tempdir().expect("a folder");
    let place = |name: &str| folder.path().join(name);
    fs::write(place("page.html"), page).expect("the page is written");
    let into = |name: &str| Stdio::from(File::create(place(name)).expect("a file"));
    let child = Command::new(browser)
        .args(["--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"])
        .args(["--disable-background-networking", "--no-first-run", "--enable-logging=stderr"])
        .args(["--window-size=1000,1400", "--virtual-time-budget=20000", "--dump-dom"])
        .arg(format!("--user-data-dir={}", place("profile").display()))
        .arg(format!("file://{}", place("page.html").display()))
        .stdin(Stdio::null())
        .stdout(into("document"))
        .stderr(into("log"))
        .spawn()
        .expect("the browser starts");
    let status = wait(child);
    let log = read(&place("log"));
    assert!(status.is_some_and(|status| status.success()), "{status:?}: {log}");
    let console = log.lines().filter(|line| line.contains("CONSOLE"));
    let console = console.collect::<Vec<_>>().join("\n");
    Some(Seen { document: read(&place("document")), console })
}

/// Says that a test is skipped, or fails it where a change is checked: there a skipped test would
/// pass for one that ran.
fn do_without(checking: bool) {
    let missing = "no Chromium on the PATH (Debian: apt-get install chromium)";
    assert!(
        !checking,
        "{missing}; with CI set in the environment this test must not be skipped"
    );
    eprintln!("skipped: {missing}");
}

#[test]
fn a_missing_browser_is_skipped_at_a_desk() {
    do_without(false);
}

#[test]
#[should_panic(expected = "no Chromium on the PATH")]
fn a_missing_browser_fails_where_a_change_is_checked() {
    do_without(true);
}

/// Waits for the end, or ends what hangs.
fn wait(mut child: Child) -> Option<ExitStatus> {
    let begun = Instant::now();
    while begun.elapsed() < PATIENCE {
        if let Some(status) = child.try_wait().expect("a child") {
            return Some(status);
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    child.kill().expect("the browser ends");
    child.wait().expect("the browser has ended");
    None
}

/// The file as text; the log may hold anything.
fn read(path: &Path) -> String {
    String::from_utf8_lossy(&fs::read(path).expect("a file")).into_owned()
}

fn find() -> Option<PathBuf> {
    let paths = std::env::var_os("PATH")?;
    let names = ["chromium", "chromium-browser", "google-chrome"];
    std::env::split_paths(&paths)
        .flat_map(|folder| names.map(|name| folder.join(name)))
        .find(|place| place.is_file())
}
