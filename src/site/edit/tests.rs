//! Does each edit change what it is asked to, and nothing else?

use super::*;
use crate::site::{Access, DeckRule, Shape, TerrainGrid, read_site};

const TEXT: &str = r#"// mine
Site(
    format: 1,
    name: "lane", // where we went
    // the ground
    terrain: Plane(height_m: 0.0 /* flat */),
    blocks: [
        // left
        (name: "a (1)", at: (0, 0), shape: Box(width_m: 8, depth_m: 6, height_m: 7)), // red
        (name: "b", subject: false, at: (20, 0), shape: Box(width_m: 8, depth_m: 6, height_m: 7)) // last
    ],
)
"#;

const LANE: &str = r#"Site(
    format: 1,
    name: "lane",
    front: Face(block: "house", toward_deg: 180), // the street side
    blocks: [
        // what it is about
        (name: "house", subject: true, at: (0, 12 /* from the kerb */), heading_deg: 12,
         shape: Box(
             width_m: 8, // measured
             depth_m: 6.5,
             height_m: 7, // guessed
         )), // tall
        (name: "quay", at: (20, 0), shape: Box(width_m: 8, depth_m: 6, height_m: 2), deck: (access: Ask /* the keeper */)),
        (name: "shed", at: (-20, 0), lift_m: 0.5, shape: Box(width_m: 3, depth_m: 3, height_m: 2)), (name: "bin", at: (-25, 0), shape: Box(width_m: 1, depth_m: 1, height_m: 1)), // at the back
    ],
    grounds: [
        (name: "yard", access: Closed, outline: [(0, 0), (10, 0), /* the gate */ (10, 10), (0, 10)]), // locked
    ],
    stances: [
        (name: "gate", at: (0, -20), lens: "24 mm"), // early
        // from above
        (name: "quay", at: (20, 0), on: "quay", lens: "50 mm", height_m: 1.7),
        (name: "far", at: (0, -80), lens: "24-70 mm", aim: Level) // late
    ],
)
"#;

fn block(name: &str) -> Block {
    Block::new(name, (1.0, 2.5), Shape::Box { width_m: 1.0, depth_m: 2.0, height_m: 3.0 })
}

fn changed(text: &str, change: impl FnOnce(&mut SiteEditor)) -> (String, Site) {
    let mut editor = SiteEditor::new(text, "lane").expect("good");
    change(&mut editor);
    (editor.text.clone(), editor.site)
}

/// Makes one edit, and holds it to be the change that was given back, there and back again.
fn edited(text: &str, edit: impl FnOnce(&mut SiteEditor) -> Result<TextChange, EditError>) -> (String, Site) {
    let mut editor = SiteEditor::new(text, "lane").expect("good");
    let change = edit(&mut editor).unwrap_or_else(|error| panic!("{error}"));
    let (after, site) = (editor.text.clone(), editor.site.clone());
    let mut again = text.to_owned();
    change.apply(&mut again).expect("fits");
    assert_eq!(again, after);
    editor.apply(&change.inverse()).expect("taken back");
    assert_eq!(editor.text, text);
    (after, site)
}

/// The text with one stretch put in place of another, which occurs once.
fn with(text: &str, was: &str, is: &str) -> String {
    assert_eq!(text.matches(was).count(), 1, "{was}");
    text.replace(was, is)
}

fn set_block(editor: &mut SiteEditor, index: usize, change: impl FnOnce(&mut Block)) -> Result<TextChange, EditError> {
    let mut block = editor.site.blocks[index].clone();
    change(&mut block);
    editor.set_block(index, &block)
}

fn set_stance(
    editor: &mut SiteEditor,
    index: usize,
    change: impl FnOnce(&mut Stance),
) -> Result<TextChange, EditError> {
    let mut stance = editor.site.stances[index].clone();
    change(&mut stance);
    editor.set_stance(index, &stance)
}

/// The lines of `after` that are not in `before`; every line of `before` must be kept but those in `lost`.
fn news<'a>(before: &str, after: &'a str, lost: usize) -> Vec<&'a str> {
    let missing = before.lines().filter(|line| !after.lines().any(|kept| kept == *line)).count();
    assert_eq!(missing, lost, "{after}");
    after.lines().filter(|line| !before.lines().any(|known| known == *line)).collect()
}

#[test]
fn fields_of_blocks_are_set_or_put_in() {
    let (text, site) = changed(TEXT, |editor| {
        set_block(editor, 0, |block| block.subject = true).expect("known");
        set_block(editor, 1, |block| (block.subject, block.at) = (true, (1.5, 2.0))).expect("known");
    });
    assert!(site.blocks.iter().all(|block| block.subject));
    assert_eq!(
        news(TEXT, &text, 2),
        [
            r#"        (name: "a (1)", subject: true, at: (0, 0), shape: Box(width_m: 8, depth_m: 6, height_m: 7)), // red"#,
            r#"        (name: "b", subject: true, at: (1.5, 2), shape: Box(width_m: 8, depth_m: 6, height_m: 7)) // last"#,
        ]
    );
}

#[test]
fn only_what_differs_is_written() {
    let (text, _) = edited(LANE, |editor| set_block(editor, 0, |block| block.at.1 = 12.5));
    assert_eq!(text, with(LANE, "12 /* from", "12.5 /* from"));
    let (text, _) = edited(LANE, |editor| {
        set_block(editor, 0, |block| block.shape = Shape::Box { width_m: 9.0, depth_m: 6.5, height_m: 7.25 })
    });
    assert_eq!(
        text,
        with(&with(LANE, "width_m: 8, // measured", "width_m: 9, // measured"), "height_m: 7,", "height_m: 7.25,")
    );
    let (text, _) = edited(LANE, |editor| {
        set_block(editor, 1, |block| {
            block.deck = Some(DeckRule { access: Access::Closed, caution: Some("ice".into()) });
        })
    });
    assert_eq!(text, with(LANE, "Ask /* the keeper */", "Closed /* the keeper */, caution: \"ice\""));
    let (text, _) = edited(LANE, |editor| {
        let mut ground = editor.site.grounds[0].clone();
        ground.outline[2] = (12.0, 10.0);
        editor.set_ground(0, &ground)
    });
    assert_eq!(text, with(LANE, "/* the gate */ (10, 10)", "/* the gate */ (12, 10)"));
    let (text, _) = edited(LANE, |editor| {
        let mut ground = editor.site.grounds[0].clone();
        ground.outline.insert(2, (11.0, 5.0));
        editor.set_ground(0, &ground)
    });
    assert_eq!(text, with(LANE, "(10, 0), /* the", "(10, 0), (11.0, 5.0), /* the"));
    let (text, _) = edited(LANE, |editor| {
        let mut ground = editor.site.grounds[0].clone();
        ground.outline.pop();
        editor.set_ground(0, &ground)
    });
    assert_eq!(text, with(LANE, "(10, 10), (0, 10)", "(10, 10)"));
    // Another form is another shape altogether.
    let (text, _) =
        edited(LANE, |editor| set_block(editor, 1, |block| block.shape = Shape::Dome { radius_m: 4.0, height_m: 2.0 }));
    assert_eq!(text, with(LANE, "Box(width_m: 8, depth_m: 6, height_m: 2)", "Dome(radius_m: 4.0, height_m: 2.0)"));
}

#[test]
fn a_default_is_not_written() {
    let (text, _) = edited(LANE, |editor| set_block(editor, 0, |block| block.heading_deg = 0.0));
    assert_eq!(text, with(LANE, ", heading_deg: 12,\n", ",\n"));
    let (text, _) = edited(LANE, |editor| set_block(editor, 2, |block| block.lift_m = 0.0));
    assert_eq!(text, with(LANE, "lift_m: 0.5, ", ""));
    let (text, _) = edited(LANE, |editor| {
        editor.together(|editor| {
            set_stance(editor, 1, |stance| stance.on = None)?;
            set_block(editor, 1, |block| block.deck = None)?;
            Ok(())
        })
    });
    assert_eq!(text, with(&with(LANE, ", deck: (access: Ask /* the keeper */)", ""), "on: \"quay\", ", ""));
    let (text, _) = edited(LANE, |editor| {
        set_stance(editor, 1, |stance| (stance.height_m, stance.note) = (Stance::STANDING_M, Some("steep".into())))
    });
    assert_eq!(text, with(LANE, ", height_m: 1.7)", ", note: \"steep\")"));
    let (text, _) = edited(LANE, |editor| editor.set_front(None));
    assert_eq!(text, with(LANE, "    front: Face(block: \"house\", toward_deg: 180), // the street side\n", ""));
    // What a person spelt out stays, though it says what is usual.
    let (text, _) = edited(TEXT, |editor| set_block(editor, 1, |block| block.at = (20.0, 1.0)));
    assert!(text.contains("subject: false, at: (20, 1)"), "{text}");
    let (text, site) = edited(LANE, |editor| {
        editor.insert_stances(1, &[Stance { note: Some("new".into()), ..Stance::plain("lane", (3.0, -4.5)) }])
    });
    assert_eq!(news(LANE, &text, 0), [r#"        (name: "lane", at: (3.0, -4.5), lens: "24-70 mm", note: "new"),"#]);
    assert_eq!(site.stances[1].name, "lane");
}

#[test]
fn blocks_are_added_behind_the_last_ones_comment() {
    let (text, site) = edited(TEXT, |editor| editor.insert_blocks(2, &[block("c"), block("d")]));
    assert_eq!(site.blocks.len(), 4);
    let tail = text.split("(name: \"b\"").nth(1).expect("b");
    assert_eq!(
        tail,
        r#", subject: false, at: (20, 0), shape: Box(width_m: 8, depth_m: 6, height_m: 7)), // last
        (name: "c", at: (1.0, 2.5), shape: Box(width_m: 1.0, depth_m: 2.0, height_m: 3.0)),
        (name: "d", at: (1.0, 2.5), shape: Box(width_m: 1.0, depth_m: 2.0, height_m: 3.0)),
    ],
)
"#
    );
    for text in [
        "(format: 1, name: \"x\")",
        "(format: 1, name: \"x\", blocks: [])",
        "Site(\n    format: 1, name: \"x\", blocks: [\n        // none yet\n    ],\n)",
        "Site(\r\n  format: 1,\r\n  name: \"x\",\r\n  blocks: [ /* none */ ]\r\n)",
        "(format: 1, name: \"x\", blocks: [(name: \"a\", at: (0, 0), shape: Dome(radius_m: 1, height_m: 1))])",
        "(format: 1, name: \"x\" /* , */, blocks: [(name: \"a\", at: (0, 0), shape: Dome(radius_m: 1, height_m: 1)) /* ,\n */, ])",
    ] {
        let before = SiteEditor::new(text, "x").expect("good").site.blocks.len();
        for at in 0..=before {
            let (changed, site) = edited(text, |editor| editor.insert_blocks(at, &[block("c"), block("d")]));
            let names: Vec<&str> = site.blocks.iter().map(|block| block.name.as_str()).collect();
            assert_eq!(names, if at > 0 { vec!["a", "c", "d"] } else { [vec!["c", "d"], vec!["a"; before]].concat() });
            assert_eq!(changed.contains("none"), text.contains("none"));
            assert_eq!(
                changed.matches("\r\n").count(),
                if text.contains('\r') { changed.matches('\n').count() } else { 0 }
            );
            // Taken out again, only the comma or line break that they needed is left.
            let (mut without, _) = changed_back(&changed, at);
            without.retain(|c| !c.is_whitespace() && c != ',');
            let was: String = text.chars().filter(|c| !c.is_whitespace() && *c != ',').collect();
            assert_eq!(without.replace("blocks:[]", ""), was.replace("blocks:[]", ""));
        }
    }
}

fn changed_back(text: &str, at: usize) -> (String, Site) {
    edited(text, |editor| editor.remove(SiteList::Blocks, &[at, at + 1]))
}

#[test]
fn what_is_put_in_between_stands_between() {
    let (text, _) = edited(LANE, |editor| editor.insert_blocks(0, &[block("new")]));
    let new = "        (name: \"new\", at: (1.0, 2.5), shape: Box(width_m: 1.0, depth_m: 2.0, height_m: 3.0)),\n";
    assert_eq!(text, with(LANE, "        // what it", &format!("{new}        // what it")));
    let (text, _) = edited(LANE, |editor| editor.insert_blocks(1, &[block("new")]));
    assert_eq!(text, with(LANE, "// tall\n", &format!("// tall\n{new}")));
    let (text, _) = edited(LANE, |editor| editor.insert_blocks(3, &[block("new")]));
    assert_eq!(text, with(LANE, " (name: \"bin\"", &format!(" {} (name: \"bin\"", new.trim())));
    let (text, _) = edited(LANE, |editor| editor.insert_blocks(4, &[block("new")]));
    assert_eq!(text, with(LANE, "// at the back\n", &format!("// at the back\n{new}")));
}

#[test]
fn what_is_removed_takes_only_what_is_its_own() {
    for (list, index, was, is) in [
        (
            SiteList::Blocks,
            2,
            "(name: \"shed\", at: (-20, 0), lift_m: 0.5, shape: Box(width_m: 3, depth_m: 3, height_m: 2)), ",
            "",
        ),
        (
            SiteList::Blocks,
            3,
            " (name: \"bin\", at: (-25, 0), shape: Box(width_m: 1, depth_m: 1, height_m: 1)), //",
            " //",
        ),
        (
            SiteList::Grounds,
            0,
            "        (name: \"yard\", access: Closed, outline: [(0, 0), (10, 0), /* the gate */ (10, 10), (0, 10)]), // locked\n",
            "",
        ),
        (SiteList::Stances, 0, "        (name: \"gate\", at: (0, -20), lens: \"24 mm\"), // early\n", ""),
        (
            SiteList::Stances,
            1,
            "        (name: \"quay\", at: (20, 0), on: \"quay\", lens: \"50 mm\", height_m: 1.7),\n",
            "",
        ),
        (SiteList::Stances, 2, "        (name: \"far\", at: (0, -80), lens: \"24-70 mm\", aim: Level) // late\n", ""),
    ] {
        let (text, _) = edited(LANE, |editor| editor.remove(list, &[index]));
        assert_eq!(text, with(LANE, was, is));
    }
    let (text, site) = edited(LANE, |editor| editor.remove(SiteList::Stances, &[2, 0, 1]));
    assert!(site.stances.is_empty() && text.contains("stances: [\n        // from above\n    ],"), "{text}");
    let line = "(format: 1, name: \"x\", grounds: [(name: \"a\", outline: [(0, 0), (1, 0), (1, 1)]), (name: \"b\", outline: [(0, 0), (1, 0), (1, 1)])])";
    for (index, left) in [(0, "b"), (1, "a")] {
        let (text, _) = edited(line, |editor| editor.remove(SiteList::Grounds, &[index]));
        assert_eq!(
            text,
            format!("(format: 1, name: \"x\", grounds: [(name: \"{left}\", outline: [(0, 0), (1, 0), (1, 1)])])")
        );
    }
    let (text, _) = edited(line, |editor| editor.remove(SiteList::Grounds, &[0, 1]));
    assert_eq!(text, "(format: 1, name: \"x\", grounds: [])");
}

#[test]
fn what_is_reordered_keeps_its_comment() {
    let names = |site: &Site| site.stances.iter().map(|stance| stance.name.clone()).collect::<Vec<_>>();
    for (from, to, order) in [
        (0, 2, ["quay", "far", "gate"]),
        (2, 0, ["far", "gate", "quay"]),
        (2, 1, ["gate", "far", "quay"]),
        (1, 0, ["quay", "gate", "far"]),
        (1, 1, ["gate", "quay", "far"]),
    ] {
        let (text, site) = edited(LANE, |editor| editor.reorder(SiteList::Stances, from, to));
        assert_eq!(names(&site), order);
        for (name, comment) in [("gate", "// early"), ("far", "// late")] {
            let mut lines = text.lines().filter(|line| line.contains(&format!("(name: \"{name}\"")));
            assert!(lines.any(|line| line.ends_with(comment)), "{text}");
        }
        assert_eq!(text.lines().count(), LANE.lines().count());
    }
    let (text, site) = edited(LANE, |editor| editor.reorder(SiteList::Blocks, 3, 0));
    assert_eq!(site.blocks[0].name, "bin", "{text}");
    let (text, site) = edited(LANE, |editor| editor.reorder(SiteList::Blocks, 0, 2));
    assert_eq!(site.blocks[2].name, "house", "{text}");
    assert!(text.contains("// tall\n"), "{text}");
}

#[test]
fn terrain_and_anchor_are_replaced_or_put_in() {
    let anchor = Anchor { latitude_deg: -33.5, longitude_deg: 151.25, height_m: 3.0, vertical_datum: None };
    let grid = TerrainGrid {
        south_west: (-10.0, -10.0),
        spacing_m: (10.0, 10.0),
        turned_deg: 0.0,
        rows: vec![vec![1.0, 2.25, 3.0], vec![0.0, -1.0, 2.0]],
    };
    let (text, site) = changed(TEXT, |editor| {
        editor.set_anchor(Some(&anchor)).expect("set");
        editor.set_terrain(&Terrain::Grid(grid.clone())).expect("set");
    });
    assert_eq!(site.anchor.as_ref(), Some(&anchor));
    assert_eq!(site.terrain, Terrain::Grid(grid.clone()));
    let news = news(TEXT, &text, 1);
    assert_eq!(news[0], "    anchor: (latitude_deg: -33.5, longitude_deg: 151.25, height_m: 3.0),");
    assert!(text.contains("// where we went\n    anchor: "), "{text}");
    assert!(news.iter().any(|line| line.trim() == "[1, 2.25, 3],"), "{text}");
    let (text, _) = edited(&text, |editor| editor.set_anchor(Some(&Anchor { height_m: 4.0, ..anchor.clone() })));
    assert_eq!(text.matches("anchor").count(), 1);
    // One post.
    let mut other = grid.clone();
    other.rows[0][1] = 2.5;
    let (higher, _) = edited(&text, |editor| editor.set_terrain(&Terrain::Grid(other.clone())));
    assert_eq!(higher, with(&text, "2.25", "2.5"));
    let short = text.replace("Grid((", "Grid(").replace("]))", "])").replace("],\n    ))", "],\n    )");
    if short != text {
        let (higher, _) = edited(&short, |editor| editor.set_terrain(&Terrain::Grid(other)));
        assert_eq!(higher, with(&short, "2.25", "2.5"));
    }
    let (text, _) = edited("(format: 1, name: \"x\")", |editor| editor.set_terrain(&Terrain::Plane { height_m: 2.0 }));
    assert_eq!(text, "(format: 1, name: \"x\", terrain: Plane(height_m: 2.0))");
    let (text, _) = edited(TEXT, |editor| editor.set_terrain(&Terrain::Plane { height_m: 2.0 }));
    assert_eq!(text, with(TEXT, "0.0 /* flat */", "2.0 /* flat */"));
}

#[test]
fn a_new_name_is_given_to_what_names_the_block() {
    let (text, site) = edited(LANE, |editor| set_block(editor, 1, |block| block.name = "old quay".into()));
    assert_eq!(site.stances[1].on.as_deref(), Some("old quay"));
    assert_eq!(
        text,
        with(
            &with(LANE, "(name: \"quay\", at: (20, 0), shape", "(name: \"old quay\", at: (20, 0), shape"),
            "on: \"quay\"",
            "on: \"old quay\""
        )
    );
    let (text, _) = edited(LANE, |editor| set_block(editor, 0, |block| block.name = "inn".into()));
    assert!(text.contains("front: Face(block: \"inn\", toward_deg: 180), // the street side"), "{text}");
}

#[test]
fn what_cannot_be_is_refused_and_nothing_is_changed() {
    let mut editor = SiteEditor::new(LANE, "lane").expect("good");
    let refusals: [(Result<TextChange, EditError>, &str); 8] = [
        (editor.insert_blocks(4, &[block("shed")]), "is 'shed' as in blocks[2]"),
        (editor.remove(SiteList::Blocks, &[1]), "is 'quay', which no block is called"),
        (set_block(&mut editor, 1, |block| block.deck = None), "a block without a deck"),
        (set_block(&mut editor, 1, |block| block.lift_m = -1.0), "lift_m"),
        (set_block(&mut editor, 1, |block| block.at.0 = f64::NAN), "NaN"),
        (editor.remove(SiteList::Grounds, &[1]), "there is no ground number 1, counted from 0: the site has 1"),
        (editor.reorder(SiteList::Stances, 0, 3), "there is no stance number 3"),
        (editor.apply(&TextChange { at: 2, removed: "x".into(), inserted: String::new() }), "at byte 2"),
    ];
    for (refusal, why) in refusals {
        let error = refusal.expect_err(why).to_string();
        assert!(error.contains(why), "{why}: {error}");
    }
    assert_eq!((editor.text(), editor.is_changed()), (LANE, false));
    let error = editor.block_named("a hose").expect_err("unknown").to_string();
    assert_eq!(error, "no block is called 'a hose'");
    assert!(editor.block_named("hous").expect_err("unknown").to_string().ends_with("did you mean 'house'?"));
    assert!(SiteEditor::new("Site(", "x").is_err());
}

#[test]
fn several_edits_are_checked_as_one() {
    let mut editor = SiteEditor::new(LANE, "lane").expect("good");
    // Each alone leaves a stance on a block that is not there.
    let change = editor
        .together(|editor| {
            editor.remove(SiteList::Blocks, &[1])?;
            editor.remove(SiteList::Stances, &[1])?;
            Ok(())
        })
        .expect("both are gone");
    assert!(!editor.text().contains("quay"));
    editor.apply(&change.inverse()).expect("taken back");
    assert_eq!(editor.text(), LANE);
    let refused = editor.together(|editor| {
        editor.remove(SiteList::Stances, &[1])?;
        editor.insert_blocks(0, &[block("house")])?;
        Ok(())
    });
    assert!(refused.is_err());
    assert_eq!(editor.text(), LANE);
}

#[test]
fn a_file_is_saved_and_edited_on() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("lane.site.ron");
    let mut editor = SiteEditor::new(TEXT, "lane").expect("good");
    editor.insert_blocks(2, &[block("c")]).expect("added");
    assert!(editor.is_changed());
    let saved = editor.save(&path).expect("saved");
    assert_eq!(read_site(&path).expect("read").site, saved.site);
    assert!(!editor.is_changed());
    editor.insert_blocks(0, &[block("d")]).expect("added");
    editor.save(&path).expect("saved again");
    assert_eq!(std::fs::read_to_string(&path).expect("read"), editor.text());
    // Somebody else's saving is not overwritten, and comes to one text with what was done here.
    let theirs = editor.text().replace("// mine", "// ours");
    std::fs::write(&path, &theirs).expect("written");
    let base = editor.text().to_owned();
    editor.insert_blocks(1, &[block("e")]).expect("added");
    assert!(matches!(editor.save(&path), Err(EditError::File(FileError::Changed { .. }))));
    let merged = merge_outside(&base, editor.text(), &theirs).expect("different lines");
    let merged = SiteEditor::new(&merged, "lane").expect("good");
    assert!(merged.text().contains("// ours") && merged.site().blocks[1].name == "e");
}
