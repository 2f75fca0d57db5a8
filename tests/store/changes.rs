//! The changes of the store's source that make the planted bugs. Only the build script reads this.

/// A change of the store's source: file, text that occurs there once, replacement.
pub(super) struct Change {
    pub(super) name: &'static str,
    pub(super) edits: &'static [(&'static str, &'static str, &'static str)],
}

const fn change(
    name: &'static str,
    edits: &'static [(&'static str, &'static str, &'static str)],
) -> Change {
    Change { name, edits }
}

pub(super) const CHANGES: &[Change] = &[
    // The first block of the programme is held back until the header is written.
    change(
        "header before body",
        &[
            (
                "slots.rs",
                "staged: Option<StagedProgramme>,\n}",
                "staged: Option<StagedProgramme>,\n    pub(super) held: [u8; 16],\n}",
            ),
            (
                "slots.rs",
                "newest, staged: None })",
                "newest, staged: None, held: [0xFF; 16] })",
            ),
            (
                "programmes.rs",
                "self.flash.write_from(region, first, data)?;",
                "let split = if offset == 0 { data.len().min(16) } else { 0 };\n\
                 let (held, rest) = data.split_at(split);\n\
                 super::blocks::copy_into(&mut self.slots.held, held.iter().copied());\n\
                 self.flash.write_from(region, first + u32::from(split > 0), rest)?;",
            ),
            (
                "programmes.rs",
                "        if digest_of(&mut self.flash, region, staged.bytes)? != *digest {\n            \
                 return Err(StoreError::DigestMismatch);\n        }\n",
                "",
            ),
            (
                "programmes.rs",
                "self.flash.write_from(region, 0, &header.encode())?;",
                "self.flash.write_from(region, 0, &header.encode())?;\n\
                 let held = self.slots.held;\n\
                 self.flash.write_from(region, BODY_BLOCK, &held)?;",
            ),
        ],
    ),
    change(
        "header unchecked",
        &[("header.rs", ".to_le_bytes() != *check {", ".to_le_bytes() != *check && false {")],
    ),
    change(
        "digest unchecked at open",
        &[(
            "slots.rs",
            "digest_of(flash, region, header.bytes)? == header.digest;",
            "digest_of(flash, region, header.bytes)? == header.digest || true;",
        )],
    ),
    change(
        "digest unchecked at commit",
        &[(
            "programmes.rs",
            "digest_of(&mut self.flash, region, staged.bytes)? != *digest {",
            "digest_of(&mut self.flash, region, staged.bytes)? != *digest && false {",
        )],
    ),
    change("active overwritten", &[("slots.rs", "=> side.other(),", "=> side,")]),
    change(
        "no repair",
        &[(
            "slots.rs",
            "if flash.erase(region).is_ok() {",
            "if true || flash.erase(region).is_ok() {",
        )],
    ),
    change(
        "no erase at begin",
        &[(
            "programmes.rs",
            "self.flash.erase(self.slots.passive().of(self.layout.slots))?;",
            "",
        )],
    ),
    change(
        "erase only what is not blank",
        &[(
            "programmes.rs",
            "self.flash.erase(self.slots.passive().of(self.layout.slots))?;",
            "let room = self.slots.passive().of(self.layout.slots);\n\
             if self.flash.read(room, 0)? != [0xFF; 16] { self.flash.erase(room)?; }",
        )],
    ),
    change(
        "erase not checked",
        &[(
            "blocks.rs",
            "if !self.is_blank(region)? {",
            "if false && !self.is_blank(region)? {",
        )],
    ),
    change(
        "write not read back",
        &[(
            "blocks.rs",
            "if self.read(region, index)? != *block {",
            "if false && self.read(region, index)? != *block {",
        )],
    ),
    change(
        "slot not looked at after the header",
        &[("programmes.rs", "if self.is_valid_in_flash(region, header)? {", "if true {")],
    ),
    change(
        "failed commit left",
        &[(
            "programmes.rs",
            "let undone = self.flash.erase(region).is_ok();",
            "let undone = true;",
        )],
    ),
    change(
        "older taken for later",
        &[("header.rs", ".cast_signed() > 0", ".cast_signed() < 0")],
    ),
    change(
        "sequence stands",
        &[(
            "programmes.rs",
            "self.slots.newest.wrapping_add(1);",
            "self.slots.newest.wrapping_add(0);",
        )],
    ),
    change(
        "damage not told",
        &[("slots.rs", "whole.is_none_or(|whole|", "false && whole.is_none_or(|whole|")],
    ),
    change(
        "cut taken for damage",
        &[("slots.rs", "whole.is_none_or(|whole|", "true || whole.is_none_or(|whole|")],
    ),
    change(
        "boot returned before written",
        &[(
            "records.rs",
            "let boot = self.journal.append(&mut self.flash, self.layout.journal, record)?;",
            "let boot = self.journal.next + u32::from(self.journal.index >= 8);\n\
             let _ = self.journal.append(&mut self.flash, self.layout.journal, record);",
        )],
    ),
    change(
        "entry unchecked",
        &[(
            "record_format.rs",
            ".to_le_bytes() != *check {",
            ".to_le_bytes() != *check && false {",
        )],
    ),
    change(
        "turn erases the full region",
        &[
            (
                "journal.rs",
                "let region = self.side.other().of(regions);\n        let scan",
                "let region = self.side.of(regions);\n        let scan",
            ),
            (
                "journal.rs",
                "self.start_region(flash, regions, self.side.other(), first)",
                "self.start_region(flash, regions, self.side, first)",
            ),
        ],
    ),
    change(
        "turn counts from one",
        &[(
            "journal.rs",
            "self.start_region(flash, regions, self.side.other(), first)",
            "self.start_region(flash, regions, self.side.other(), first.min(1))",
        )],
    ),
    change(
        "boot not carried over",
        &[(
            "journal.rs",
            "copy_into(&mut record.data, self.boot.to_le_bytes());",
            "copy_into(&mut record.data, []);",
        )],
    ),
    change(
        "torn line used again",
        &[
            ("journal.rs", "        scan.used = index.saturating_add(1);\n", ""),
            (
                "journal.rs",
                "scan.base = Some(first);",
                "scan.base = Some(first);\n            scan.used = index.saturating_add(1);",
            ),
        ],
    ),
    change(
        "unread lines forgotten",
        &[("journal.rs", "{ region.block_count() } else { 0 };", "{ 0 } else { 0 };")],
    ),
    change(
        "loss not noticed",
        &[("journal.rs", "let lost = a.used > 1 || b.used > 0;", "let lost = false;")],
    ),
    change(
        "loss is everywhere",
        &[("journal.rs", "let lost = a.used > 1", "let lost = a.used > 0")],
    ),
    change(
        "settings head first",
        &[(
            "settings.rs",
            "self.flash.write_from(region, 1, bytes)?;\n        self.flash.write(region, 0, &first)",
            "self.flash.write(region, 0, &first)?;\n        self.flash.write_from(region, 1, bytes)",
        )],
    ),
    change(
        "settings unchecked",
        &[(
            "settings.rs",
            "if checksum.finalize() != check {",
            "if checksum.finalize() != check && false {",
        )],
    ),
    change("always the first slot", &[("slots.rs", "=> side.other(),", "=> Side::First,")]),
];
