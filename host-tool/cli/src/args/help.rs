//! The end of each command's help: examples and exit codes, in lines of at most 48 columns, so that
//! they are not wrapped on a narrow screen.

use saggar_plant::faults::FaultKind;

use crate::error::Exit;
use saggar_standin::presses::Button;

/// Most columns of a line.
const COLUMNS: usize = 48;

/// Placeholders for the exit codes in the texts below.
const EXITS: [(&str, Exit); 4] = [
    ("{pass}", Exit::Pass),
    ("{fail}", Exit::Fail),
    ("{bad}", Exit::BadInput),
    ("{unknown}", Exit::NotKnown),
];

/// Fills in the placeholders of a text below.
pub(super) fn with_facts(text: &str) -> String {
    let mut whole =
        text.replace("{faults}", &fault_names()).replace("{buttons}", &Button::key_help());
    for (mark, exit) in EXITS {
        whole = whole.replace(mark, &exit.code().to_string());
    }
    whole
}

/// The names of all faults, as many in a line as fit.
fn fault_names() -> String {
    let mut lines = vec![String::from(" ")];
    for name in FaultKind::ALL.map(FaultKind::name) {
        let line = lines.last().map_or(0, String::len);
        if line + " ".len() + name.len() + ",".len() > COLUMNS {
            lines.push(String::from(" "));
        }
        if let Some(line) = lines.last_mut() {
            line.push_str(&format!(" {name},"));
        }
    }
    let text = lines.join("\n");
    text.trim_start().trim_end_matches(',').to_owned()
}

pub(super) const ALL: &str = "\
Exit codes:
  {pass}  success
  {fail}  the verdict of a rehearsal is FAIL, a
     device refuses, or a replay differs
  {bad}  something is wrong with a file or the
     command line, or a file was not written
  {unknown}  not known: a verdict where a model ends, an
     order without an answer, or a replay with
     nothing to compare";

pub(super) const NEW: &str = "\
Examples:
  saggar new
  saggar new infiltrate-alumina
  saggar new infiltrate-alumina coping.toml
  saggar new lift-vacuum our-furnace.toml

Note:
  With a schedule comes the profile of its
  furnace, into the same folder.

Exit codes:
  {pass}  written, or listed
  {bad}  the file exists already, or cannot be
     written";

pub(super) const COMPLETIONS: &str = "\
Examples:
  saggar completions bash > saggar.bash
  saggar completions zsh > _saggar";

pub(super) const MAN: &str = "\
Examples:
  saggar man | man -l -
  saggar man ~/.local/share/man/man1

Exit codes:
  {pass}  written
  {bad}  a page cannot be written";

pub(super) const CHECK: &str = "\
Examples:
  saggar check clean.toml
  saggar check our-furnace.toml
  saggar check *.toml --furnace weak.toml
  saggar check clean.toml --json

Exit codes:
  {pass}  nothing is wrong with any file
  {bad}  something is wrong";

pub(super) const COMPILE: &str = "\
Examples:
  saggar compile clean.toml -o clean.programme

Exit codes:
  {pass}  written
  {bad}  something is wrong, nothing was written";

pub(super) const SHOW: &str = "\
Examples:
  saggar show clean.programme
  saggar show clean.programme --digest a89609a1

Exit codes:
  {pass}  shown
  {bad}  the file is no programme, or one with
     another digest";

pub(super) const REHEARSE: &str = "\
Examples:
  saggar rehearse clean.toml
  saggar rehearse clean.toml --out trial-1
  saggar rehearse clean.toml --mains 90
  saggar rehearse clean.toml --start 150
  saggar rehearse clean.toml \
    --after rehearsals/clean --pause 30
  saggar rehearse clean.toml \
    --fault control-drift=30@45..60
  saggar rehearse clean.toml --faults our.toml
  saggar rehearse slow.toml \\
    --reason 'a trial on scrap'
  saggar rehearse clean.toml --json

Faults, explained by `saggar keys faults`:
  {faults}

Exit codes:
  {pass}  the verdict is PASS
  {fail}  the verdict is FAIL
  {bad}  something is wrong and nothing was fired,
     or the report could not be written; the
     verdict is printed then
  {unknown}  the verdict is NOT KNOWN: a model ends
     where this firing goes";

pub(super) const KEYS: &str = "\
Examples:
  saggar keys schedule
  saggar keys schedule stage.soak
  saggar keys profile --markdown
  saggar keys faults
  saggar keys schedule --json
                     the schema for an editor";

pub(super) const SET: &str = "\
Examples:
  saggar set coping.toml work.count=3
  saggar set coping.toml stage[2].soak.minutes=9
  saggar set weak.toml heater.rated_watt=900

Exit codes:
  {pass}  set
  {bad}  a key or a value is wrong, or `check`
     would find something wrong afterwards; the
     file was not changed";

pub(super) const TRIPS: &str = "\
Examples:
  saggar trips
  saggar trips our-furnace.toml

Exit codes:
  {pass}  listed
  {bad}  something is wrong with the profile";

pub(super) const CAMPAIGN: &str = "\
Examples:
  saggar campaign singles --every 40
  saggar campaign singles --shard 2/8
  saggar campaign singles \\
    --table docs/campaign.md
  saggar campaign singles \\
    --case infiltrate-alumina/control-open/7

Exit codes:
  {pass}  nothing wrong was found
  {fail}  something did not hold
  {bad}  something is wrong with the command line
     or the page
  {unknown}  not known: it was ended before its last
     case, and nothing was found so far";

pub(super) const REPLAY: &str = "\
Examples:
  saggar replay monday.firing
  saggar replay monday.firing --csv monday.csv
  saggar replay monday.firing \\
    --schedule coping.toml --out monday

Note:
  The verdict is computed by a simulated furnace
  that the recorded outputs drive.

Exit codes:
  {pass}  equal: every tick that could be compared
     has the same outputs, and the verdict is
     PASS if a schedule is named
  {fail}  different, or the verdict is FAIL
  {bad}  the file is damaged, no recording, or one
     of another programme
  {unknown}  not known: nothing could be compared, or
     the verdict is NOT KNOWN";

pub(super) const KEY_NEW: &str = "\
Examples:
  saggar device key new --out bench.key

Exit codes:
  {pass}  written
  {bad}  something is wrong, nothing was written";

pub(super) const SETTINGS: &str = "\
Examples:
  saggar device settings dunlin.toml \\
    --key bench.key --id bench-7 \\
    -o bench.settings

Note:
  The file holds the key: treat it like one.

Exit codes:
  {pass}  written
  {bad}  something is wrong, nothing was written";

pub(super) const INFO: &str = "\
Examples:
  saggar device info --port /dev/ttyACM0
  saggar device info --port COM3
  saggar device info --port tcp:127.0.0.1:7430

Exit codes:
  {pass}  shown
  {bad}  no answer";

pub(super) const UPLOAD: &str = "\
Examples:
  saggar device upload clean.toml \\
    --port /dev/ttyACM0 --key bench.key

Note:
  Start is a button at the furnace. No
  command starts heat.

Exit codes:
  {pass}  the device has the programme
  {fail}  the device refuses it
  {bad}  something is wrong here, or on the line
  {unknown}  the connection failed, and it is not known
     whether the device has it: ask with
     `device info`";

pub(super) const WATCH: &str = "\
Examples:
  saggar device watch --port /dev/ttyACM0
  saggar device watch --port COM3 \\
    --record monday.firing --until-end
  saggar device watch --port COM3 \\
    --schedule clean.toml --key bench.key

Exit codes:
  {pass}  watched to the end, or ended by you
  {bad}  the connection or the file failed";

pub(super) const LOG: &str = "\
Examples:
  saggar device log --port /dev/ttyACM0
  saggar device log --port COM3 --from 120

Exit codes:
  {pass}  shown
  {bad}  no answer";

pub(super) const STOP: &str = "\
Examples:
  saggar device stop --port /dev/ttyACM0 \\
    --key bench.key

Note:
  The stop button at the furnace is quicker
  and needs no computer.

Exit codes:
  {pass}  the device has taken the order
  {fail}  the device refuses it
  {bad}  something is wrong here, or on the line
  {unknown}  the connection failed, and it is not known
     whether the device has taken it";

pub(super) const MESSAGES: &str = "\
Examples:
  saggar device messages --elf image.elf \\
    --port /dev/ttyACM1
  saggar device messages --elf image.elf \\
    --file messages.bin

Note:
  Only a build with the feature messages can:
  cargo run --release --features messages -- \\
    device messages ...

Exit codes:
  {pass}  shown
  {bad}  the image has no messages, the line
     failed, or this build cannot";

pub(super) const STANDIN: &str = "\
Examples:
  saggar standin infiltrate.toml --speed 60
  saggar standin infiltrate.toml --key d.key \\
    --operator --once --speed max
  saggar standin infiltrate.toml --listen pty

Buttons, at the keyboard, each with Enter:
  {buttons}

Exit codes, with --once:
  {pass}  the verdict on the firing passed
  {fail}  it failed
  {bad}  something is wrong, or it was ended before";
