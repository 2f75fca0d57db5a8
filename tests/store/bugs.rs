//! Bugs to plant in the store, alone and together, and the campaigns that find them.

/// A copy of the store with changes.
#[allow(dead_code, reason = "the build reads one half, the tests the other")]
pub(super) struct Bug {
    /// Unique name; with underscores for spaces it is the name of its module.
    pub(super) name: &'static str,
    /// Names in `changes.rs`.
    pub(super) changes: &'static [&'static str],
    /// Campaigns that must find it.
    pub(super) seen: &'static [Campaign],
    /// Campaigns that do not find it, because another defence masks it: shown so that a passing
    /// campaign is not taken for a proof.
    pub(super) masked: &'static [Campaign],
}

/// The campaigns.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Campaign {
    Cuts,
    Flips,
    Failures,
    Journal,
    Decay,
    Settings,
    Wear,
}

use Campaign::{Cuts, Decay, Failures, Flips, Journal, Settings, Wear};

const fn bug(
    name: &'static str,
    changes: &'static [&'static str],
    seen: &'static [Campaign],
    masked: &'static [Campaign],
) -> Bug {
    Bug { name, changes, seen, masked }
}

pub(super) const BUGS: &[Bug] = &[
    // Found with one change.
    bug("header unchecked", &["header unchecked"], &[Flips, Cuts], &[]),
    bug("digest unchecked at open", &["digest unchecked at open"], &[Flips], &[Failures]),
    bug("active overwritten", &["active overwritten"], &[Cuts, Failures, Wear], &[]),
    bug("always the first slot", &["always the first slot"], &[Cuts, Wear], &[]),
    bug("no repair", &["no repair"], &[Cuts], &[Flips]),
    bug("no erase at begin", &["no erase at begin"], &[Cuts, Wear], &[]),
    bug("failed commit left", &["failed commit left"], &[Failures], &[Cuts]),
    bug("older taken for later", &["older taken for later"], &[Cuts], &[]),
    bug("sequence stands", &["sequence stands"], &[Cuts], &[]),
    bug("damage not told", &["damage not told"], &[Flips], &[Cuts]),
    bug("cut taken for damage", &["cut taken for damage"], &[Cuts], &[]),
    bug("boot before written", &["boot returned before written"], &[Journal], &[]),
    bug("entry unchecked", &["entry unchecked"], &[Journal], &[]),
    bug("turn erases the full region", &["turn erases the full region"], &[Journal], &[]),
    bug("turn counts from one", &["turn counts from one"], &[Journal], &[]),
    bug("boot not carried over", &["boot not carried over"], &[Journal], &[]),
    bug("torn line used again", &["torn line used again"], &[Journal], &[]),
    bug("unread lines forgotten", &["unread lines forgotten"], &[Decay], &[Journal]),
    bug("loss not noticed", &["loss not noticed"], &[Decay], &[Journal]),
    bug("loss is everywhere", &["loss is everywhere"], &[Journal], &[]),
    bug("settings unchecked", &["settings unchecked"], &[Flips, Settings], &[]),
    // Masked alone by another defence, found together.
    bug("header first", &["header before body"], &[Cuts], &[Flips]),
    bug(
        "header first and digest unchecked",
        &["header before body", "digest unchecked at open"],
        &[Cuts],
        &[],
    ),
    bug("settings head first", &["settings head first"], &[], &[Settings]),
    bug(
        "settings head first and unchecked",
        &["settings head first", "settings unchecked"],
        &[Settings],
        &[],
    ),
    bug("erase not checked", &["erase not checked"], &[], &[Cuts, Failures, Journal]),
    bug("write not read back", &["write not read back"], &[], &[Cuts]),
    bug("digest unchecked at commit", &["digest unchecked at commit"], &[], &[Cuts, Failures]),
    bug("slot not looked at", &["slot not looked at after the header"], &[], &[Cuts, Failures]),
    bug(
        "wrong digest goes in",
        &["digest unchecked at commit", "slot not looked at after the header"],
        &[Failures],
        &[Cuts],
    ),
    bug(
        "lost header not seen",
        &["write not read back", "slot not looked at after the header"],
        &[Failures],
        &[Cuts],
    ),
    bug(
        "no repair and lazy erase",
        &["no repair", "erase only what is not blank"],
        &[Cuts],
        &[],
    ),
    bug(
        "header and digest unchecked",
        &["header unchecked", "digest unchecked at open"],
        &[Cuts, Flips],
        &[],
    ),
    bug(
        "nothing looked at again",
        &[
            "erase not checked",
            "write not read back",
            "digest unchecked at commit",
            "slot not looked at after the header",
        ],
        &[Failures],
        &[],
    ),
    bug(
        "unread lines forgotten and loss not noticed",
        &["unread lines forgotten", "loss not noticed"],
        &[Decay],
        &[],
    ),
];
