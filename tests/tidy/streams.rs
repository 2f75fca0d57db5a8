//! Only one file of the tool writes to standard output and standard error. It escapes what a terminal
//! would act on, so nothing unescaped is printed.

use super::product;

/// That file.
const SCREEN: &str = "host-tool/terminal/src/screen.rs";

/// A line that prints, or takes a stream. Asking about a stream does not count, nor does a progress
/// bar, which shows only our own text.
fn prints(line: &str) -> bool {
    let asks = ["is_terminal()", "AutoStream::choice(", "ProgressDrawTarget::stderr()"];
    let macros = ["print!(", "println!(", "dbg!("].iter().any(|name| line.contains(name));
    let stream = ["stdout()", "stderr()"].iter().any(|name| {
        let mut found = line.match_indices(name);
        found.any(|(at, _)| !line[..at].ends_with(|c: char| c.is_alphanumeric() || c == '_'))
    });
    macros || stream && !asks.iter().any(|asked| line.contains(asked))
}

#[test]
fn one_file_prints() {
    let all = ["host-tool", "sim"].into_iter().flat_map(product);
    let files: Vec<_> = all.filter(|file| file.path.contains("/src/")).collect();
    let there = files.iter().find(|file| file.path == SCREEN).expect("the file that prints");
    assert!(there.code().any(|(_, line)| prints(line)), "nothing is found where it must be");
    for file in files.iter().filter(|file| file.path != SCREEN) {
        if let Some((number, line)) = file.code().find(|(_, line)| prints(line)) {
            panic!("{}:{number} prints past {SCREEN}: {}", file.path, line.trim());
        }
    }
}

#[test]
fn what_prints_is_found() {
    for line in ["eprintln!(\"a\")", "io::stdout().lock()", "let e = stderr();", "print!(\"\")"]
    {
        assert!(prints(line), "{line}");
    }
    for line in
        ["plain_stdout()", "stderr().is_terminal()", "AutoStream::choice(&io::stderr())"]
    {
        assert!(!prints(line), "{line}");
    }
}
