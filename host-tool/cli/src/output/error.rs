//! Prints errors. What is wrong with a file is shown with the source line, as one line of text, or as
//! JSON.

use std::io;
use std::ops::Range;

use annotate_snippets::renderer::DecorStyle;
use annotate_snippets::{AnnotationKind, Level, Renderer, Snippet};
use anstream::ColorChoice;
use serde_json::{Value, json};

use crate::error::CliError;
use saggar_files::{Diagnostic, Location, diagnostics_summary, escape_hidden};
use saggar_terminal::DisplayOptions;
use saggar_terminal::lines;
use saggar_terminal::print_json;
use saggar_terminal::{Printer, before_parsing, stderr};

/// Prints an error; `outcome` follows the number of diagnostics.
pub fn show_error(error: &CliError, outcome: &str, display: &DisplayOptions) {
    if display.json {
        for_programs(&error.to_string(), error.diagnostics());
    } else if error.diagnostics().is_empty() {
        show_report_error(error, display);
    } else {
        print_diagnostics(error.diagnostics(), display);
        let count = diagnostics_summary(error.diagnostics());
        let _ = stderr(display).line(format!("{count}{outcome}"));
    }
}

/// Prints an error that is not about a file that was read, such as a report that was not written.
pub fn show_report_error(error: &CliError, display: &DisplayOptions) {
    let _ = stderr(display).wrapped(format!("saggar: {error}"), "", "  ");
}

/// Prints help, which the parser has wrapped.
pub fn help(drawn: &str) {
    let _ = before_parsing(false).styled_lines(drawn);
}

/// Prints an error in the command line, as the parser drew it. What was typed has to be escaped
/// in it. If it cannot be written, the exit code still tells.
pub fn usage_error(drawn: &str) {
    let _ = before_parsing(true).wrapped_styled_lines(drawn);
}

/// As [`usage_error`], of a text without colours in which nothing is escaped yet.
pub fn plain_usage_error(text: &str) {
    let lines: Vec<String> = text.lines().map(escape_hidden).collect();
    usage_error(&lines.join("\n"));
}

/// Prints an error in the command line as JSON.
pub fn usage_error_for_programs(error: &str) {
    for_programs(error, &[]);
}

fn for_programs(error: &str, wrong: &[Diagnostic]) {
    // If this cannot be written either, the exit code still tells.
    let _ = print_json(
        &json!({ "ok": false, "error": error, "findings": diagnostics_json(wrong) }),
    );
}

/// Findings for a program.
pub(super) fn diagnostics_json(diagnostics: &[Diagnostic]) -> Vec<Value> {
    let each = |diagnostic: &Diagnostic| {
        let location =
            diagnostic.location.as_ref().map(|location| (location.line, location.column));
        let (line, column) = location.unzip();
        json!({
            "file": diagnostic.file,
            "line": line,
            "column": column,
            "message": diagnostic.message,
            "help": diagnostic.help,
        })
    };
    diagnostics.iter().map(each).collect()
}

/// Findings for a person.
pub(super) fn print_diagnostics(diagnostics: &[Diagnostic], display: &DisplayOptions) {
    let mut err = stderr(display);
    for diagnostic in diagnostics {
        let _ = show(&mut err, diagnostic, display);
    }
}

/// One of them.
fn show(
    out: &mut Printer<'_>,
    diagnostic: &Diagnostic,
    display: &DisplayOptions,
) -> io::Result<()> {
    if let Some(location) = &diagnostic.location
        && display.for_terminal
    {
        return draw(out, diagnostic, location, display);
    }
    let location = diagnostic
        .location
        .as_ref()
        .map_or_else(String::new, |location| format!(":{}:{}", location.line, location.column));
    if display.for_terminal {
        out.wrapped(
            format!("{}{location}: {}", diagnostic.file, diagnostic.message),
            "",
            "  ",
        )?;
        return match &diagnostic.help {
            Some(help) => out.wrapped(format!("help: {help}"), "  ", "        "),
            None => Ok(()),
        };
    }
    // One line each: editors and scripts read these.
    out.line(format!("{}{location}: {}", diagnostic.file, diagnostic.message))?;
    match &diagnostic.help {
        Some(help) => out.line(format!("    help: {help}")),
        None => Ok(()),
    }
}

/// A diagnostic with its line.
fn draw(
    out: &mut Printer<'_>,
    diagnostic: &Diagnostic,
    location: &Location,
    display: &DisplayOptions,
) -> io::Result<()> {
    let renderer = match display.stderr_color {
        ColorChoice::Never => Renderer::plain(),
        ColorChoice::Auto | ColorChoice::Always | ColorChoice::AlwaysAnsi => Renderer::styled(),
    };
    let decor = if display.unicode { DecorStyle::Unicode } else { DecorStyle::Ascii };
    // What is drawn may have colours, so that foreign text goes into it written out.
    let text = |text: &str, indent: usize| {
        lines(&escape_hidden(text), display.width.saturating_sub(indent)).join("\n")
    };
    let (line, mark) = marked(location);
    let source = Snippet::source(line)
        .path(location.source.name())
        .line_start(location.line)
        .annotation(AnnotationKind::Primary.span(mark));
    let title = text(&diagnostic.message, "error: ".len());
    let mut group = Level::ERROR.primary_title(title).element(source);
    if let Some(help) = &diagnostic.help {
        let frame = location.line.to_string().len() + " ╰ help: ".chars().count();
        group = group.element(Level::HELP.message(text(help, frame)));
    }
    let report = &[group];
    out.styled_lines(&renderer.decor_style(decor).term_width(display.width).render(report))?;
    out.blank()
}

/// The line of a location, without control characters, and its marked bytes.
fn marked(location: &Location) -> (String, Range<usize>) {
    let whole = location.source.display_text();
    let start = whole[..location.span.start].rfind('\n').map_or(0, |newline| newline + 1);
    let end = whole[start..].find('\n').map_or(whole.len(), |newline| start + newline);
    let in_line = |byte: usize| byte.clamp(start, end) - start;
    let line = whole[start..end].trim_end_matches('\r').to_owned();
    let mark = in_line(location.span.start).min(line.len())
        ..in_line(location.span.end).min(line.len());
    (line, mark)
}
