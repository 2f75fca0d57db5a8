//! Every command has help, a manual page and completions.

use super::bench::{Bench, GOOD};

/// All commands: "check", "device upload".
fn commands() -> Vec<String> {
    let bench = Bench::with(GOOD);
    let listed = |of: &[&str]| -> Vec<String> {
        let help = bench.run(&[&["help"], of].concat()).out;
        let (_, list) = help.split_once("\nCommands:\n").unwrap_or_default();
        let lines = list.lines().take_while(|line| !line.is_empty());
        let names = lines.filter_map(|line| line.strip_prefix("  ")?.split(' ').next());
        let names = names.filter(|name| !name.is_empty() && *name != "help");
        names.map(|name| [of, &[name]].concat().join(" ")).collect()
    };
    let mut all = listed(&[]);
    let mut next = 0;
    while let Some(command) = all.get(next).cloned() {
        all.extend(listed(&command.split(' ').collect::<Vec<_>>()));
        next += 1;
    }
    all
}

#[test]
fn help_is_a_command_too() {
    let bench = Bench::with(GOOD);
    let commands = commands();
    assert!(commands.iter().any(|command| command == "device key new"), "{commands:?}");
    for command in [""].into_iter().chain(commands.iter().map(String::as_str)) {
        let words: Vec<&str> = command.split_whitespace().collect();
        let by_command = bench.run(&[&["help"], &words[..]].concat());
        let by_option = bench.run(&[&words[..], &["--help"]].concat());
        assert_eq!((by_command.code, by_command.err.as_str()), (0, ""));
        assert_eq!(by_command.out, by_option.out, "{command}");
    }
    let result = bench.run(&["help", "chekc"]);
    assert!(
        result.code == 2 && result.err.contains("unrecognized subcommand 'chekc'"),
        "{result:?}"
    );
}

#[test]
fn every_command_has_a_manual_page() {
    let bench = Bench::with(GOOD);
    std::fs::create_dir(bench.path("man1")).unwrap();
    // Twice: the pages of an older version are replaced.
    for _ in 0..2 {
        let result = bench.run(&["man", "man1"]);
        assert_eq!((result.code, result.err.as_str()), (0, ""), "{result:?}");
    }
    let mut wanted: Vec<String> = commands()
        .iter()
        .map(|command| format!("saggar-{}.1", command.replace(' ', "-")))
        .chain(["saggar.1".to_owned()])
        .collect();
    wanted.sort();
    let files = std::fs::read_dir(bench.path("man1")).unwrap();
    let mut pages: Vec<String> =
        files.map(|file| file.unwrap().file_name().into_string().unwrap()).collect();
    pages.sort();
    assert_eq!(pages, wanted);
    let upload = std::fs::read_to_string(bench.path("man1/saggar-device-upload.1")).unwrap();
    assert!(upload.contains("clearance") && upload.contains("Exit codes"), "{upload}");
    let top = bench.run(&["man"]);
    assert_eq!(top.out, std::fs::read_to_string(bench.path("man1/saggar.1")).unwrap());
}

#[test]
fn every_shell_completes_every_command() {
    let bench = Bench::with(GOOD);
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        let result = bench.run(&["completions", shell]);
        assert_eq!((result.code, result.err.as_str()), (0, ""));
        for command in commands() {
            let last = command.split(' ').next_back().unwrap();
            assert!(result.out.contains(last), "{shell} does not know {command}");
        }
    }
}
