//! Ten thousand edits at random, each made to the text and to the site it reads to: both must come to the same.

use super::*;
use crate::site::{Access, Aim, DeckRule, Finish, Lean, Severity, Shape, Sun, Underlay, check_site};

/// Comments wherever a comment may stand.
const COMMENTED: &str = r#"// before /* everything */
Site( // the site
    format: 1, name: "lane" /* , */, // where "we" (went)
    // the ground
    terrain: Grid( south_west: (-50, -50), spacing_m: (50, 50), rows: [ // from the north
        [1, 2 /* the knoll */, 3],
        [0, 0.5, 1], // the middle
    ]),
    water_level_m: Some(-1.4 /* low */), sun: (azimuth_deg: 200 /* late */, altitude_deg: 30),
    blocks: [ // blocks
        /* first */ (name: "house", subject: true, at: (0, 12 /* from the kerb */), heading_deg: 12, // turned
         shape: Box( // a box
             width_m: 8, // measured
             depth_m: 6.5,
             /* guessed */ height_m: 7 // to the eaves
         ) /* done */, cautions: ["dog", /* and */ "cat"]), // tall
        (name: "quay", at: (20, 0), shape: Box(width_m: 8, depth_m: 6, height_m: 2), deck: (access: Ask /* the keeper */)),
        (name: "shed", at: (-20, 0), lift_m: 0.5, shape: Box(width_m: 3, depth_m: 3, height_m: 2)), (name: "bin", at: (-25, 0), shape: Wall(path: [(0, 0), (3, 0)], thickness_m: 1, height_m: 1)) // at the back
        , // odd
    ] /* no more */,
    grounds: [
        (name: "yard", access: Closed, outline: [(0, 0), (10, 0), /* the gate */ (10, 10), (0, 10)]), // locked
        (name: "lane", outline: [
            (0, -10), // west
            (10, -10),
            (10, -12), (0, -12), // both
        ])
    ],
    stances: [
        (name: "gate", at: (0, -20), lens: "24 mm"), // early
        // from above
        (name: "quay", at: (20, 0), on: "quay", lens: "50 mm", height_m: 1.7, note: "a\n\"b\" // no comment"),
        (name: "far", at: (0, -80), lens: "24-70 mm", aim: Level) // late
        // the end
    ],
)
// after
"#;

const ONE_LINE: &str = r#"(format: 1, name: "x", blocks: [(name: "house", subject: true, at: (0, 0), shape: Dome(radius_m: 1, height_m: 1)), (name: "quay", at: (9, 9), shape: Stage(width_m: 2, depth_m: 2, floor_m: 2), deck: ())], stances: [(name: "a", at: (0, -9), lens: "24 mm", on: "quay")])"#;

const BARE: &str = "(format: 1, name: \"x\")";

/// The published generator "SplitMix64" (Steele, Lea, Flood 2014), from memory.
struct Chance(u64);

impl Chance {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn below(&mut self, end: usize) -> usize {
        (self.next() % end.max(1) as u64) as usize
    }

    fn metres(&mut self, most: f64) -> f64 {
        // Whole metres and hundredths, as a person writes them; now and then what no site allows.
        match self.below(12) {
            0 => f64::NAN,
            1 => -1e6,
            2..5 => (self.below(2 * most as usize) as f64) - most,
            _ => (self.below(200 * most as usize) as f64) / 100.0 - most,
        }
    }

    fn words(&mut self) -> String {
        let words = ["a", "b \"c\"", "quay", "house", "grün\n2", "", "// d", "e, (f)", "ground", "x]"];
        let number = self.below(40);
        words.get(number).map_or_else(|| format!("item {number}"), |word| (*word).to_owned())
    }

    fn shape(&mut self) -> Shape {
        let [width_m, depth_m, height_m] = [9.0, 5.0, 8.0].map(|most| self.metres(most).abs());
        match self.below(6) {
            0 => Shape::Box { width_m, depth_m, height_m },
            1 => Shape::Dome { radius_m: width_m, height_m },
            2 => Shape::Gable { width_m, depth_m, eaves_m: 1.0, ridge_m: height_m },
            3 => Shape::Wall { path: vec![(0.0, 0.0), (width_m, 0.0), (width_m, depth_m)], thickness_m: 0.5, height_m },
            4 => Shape::Stage { width_m, depth_m, floor_m: height_m, rail_m: 0.0 },
            _ => Shape::Mast {
                foot_radius_m: 0.2,
                head_radius_m: 0.1,
                height_m,
                stays: 3,
                stay_heights_m: vec![1.0, 2.0],
                stay_radius_m: width_m,
            },
        }
    }

    fn block(&mut self) -> Block {
        let name = self.words();
        let at = (self.metres(99.0), self.metres(99.0));
        Block::new(&name, at, self.shape())
    }

    fn change_block(&mut self, block: &mut Block) {
        match self.below(13) {
            0 => block.name = self.words(),
            1 => block.subject = !block.subject,
            2 => block.at.0 = self.metres(99.0),
            3 => block.at = (self.metres(99.0), self.metres(99.0)),
            4 => block.heading_deg = if block.heading_deg == 0.0 { self.metres(180.0) } else { 0.0 },
            5 => block.lift_m = if block.lift_m == 0.0 { self.metres(3.0).abs() } else { 0.0 },
            6 => {
                // One given up for the other.
                (block.base_m, block.lift_m) = (block.base_m.is_none().then(|| self.metres(9.0)), 0.0);
            }
            7 => block.leans = block.leans.is_none().then(|| Lean { by_deg: 2.0, toward_deg: self.metres(180.0) }),
            8 => block.finish = [Finish::Card, Finish::Grey, Finish::Leaf][self.below(3)],
            9 => {
                let access = [Access::Open, Access::Ask, Access::Closed][self.below(3)];
                let caution = (self.below(2) == 0).then(|| self.words());
                block.deck = (self.below(4) > 0).then_some(DeckRule { access, caution });
            }
            10 if self.below(2) == 0 => block.cautions.insert(0, self.words()),
            10 => block.cautions.truncate(self.below(3)),
            11 => block.shape = self.shape(),
            _ => match &mut block.shape {
                Shape::Box { height_m, .. } | Shape::Dome { height_m, .. } | Shape::Stage { floor_m: height_m, .. } => {
                    *height_m = self.metres(9.0).abs();
                }
                Shape::Wall { path, .. } | Shape::Prism { outline: path, .. } => self.change_corners(path),
                Shape::Mast { stay_heights_m, .. } => match self.below(3) {
                    0 => stay_heights_m.push(1.5),
                    1 => stay_heights_m.clear(),
                    _ => stay_heights_m.truncate(1),
                },
                _ => block.shape = self.shape(),
            },
        }
    }

    fn change_corners(&mut self, corners: &mut Vec<(f64, f64)>) {
        let corner = self.below(corners.len());
        match self.below(4) {
            0 if !corners.is_empty() => {
                corners.remove(corner);
            }
            1 => corners.insert(corner, (self.metres(20.0), self.metres(20.0))),
            2 => corners.push((self.metres(20.0), self.metres(20.0))),
            _ => corners[corner].1 = self.metres(20.0),
        }
    }

    fn ground(&mut self) -> Ground {
        let outline = vec![(0.0, 0.0), (self.metres(20.0), 0.0), (5.0, self.metres(20.0))];
        Ground { name: self.words(), access: Access::Ask, outline, caution: None }
    }

    fn change_ground(&mut self, ground: &mut Ground) {
        match self.below(4) {
            0 => ground.name = self.words(),
            1 => ground.access = [Access::Open, Access::Ask, Access::Closed][self.below(3)],
            2 => ground.caution = ground.caution.is_none().then(|| self.words()),
            _ => self.change_corners(&mut ground.outline),
        }
    }

    fn change_stance(&mut self, stance: &mut Stance) {
        match self.below(10) {
            0 => stance.name = self.words(),
            1 => stance.at.1 = self.metres(99.0),
            2 => stance.height_m = [1.6, 0.9, 2.0, -1.0][self.below(4)],
            3 => stance.on = [None, Some("ground".into()), Some("quay".into())][self.below(3)].clone(),
            4 => stance.eye_height_m = stance.eye_height_m.is_none().then(|| self.metres(9.0)),
            5 => stance.lens = ["24 mm", "24-70 mm", "no such lens"][self.below(3)].into(),
            6 => stance.f_number = [8.0, 11.0, 5.6][self.below(3)],
            7 => {
                let turned = Aim::Turned { heading_deg: self.metres(180.0), pitch_deg: 2.0, roll_deg: 0.0 };
                stance.aim = [Aim::Fill, Aim::Level, Aim::At(0.0, 1.5, self.metres(9.0)), turned][self.below(4)];
            }
            8 => stance.note = stance.note.is_none().then(|| self.words()),
            _ => stance.crop = stance.crop.is_none().then_some(crate::optics::Proportion(5.0, 4.0)),
        }
    }

    fn change_head(&mut self, site: &mut Site) {
        match self.below(8) {
            0 => site.name = self.words(),
            1 => {
                site.anchor = site.anchor.is_none().then(|| Anchor {
                    latitude_deg: self.metres(80.0),
                    longitude_deg: 2.0,
                    height_m: 0.0,
                    vertical_datum: Some(self.words()),
                });
            }
            2 => site.time_zone = site.time_zone.is_none().then(|| "Europe/London".into()),
            3 => site.water_level_m = site.water_level_m.is_none().then(|| self.metres(9.0)),
            4 => site.sun = site.sun.is_none().then(|| Sun { azimuth_deg: self.metres(180.0), altitude_deg: 20.0 }),
            5 => {
                let face = Front::Face { block: "house".into(), toward_deg: self.metres(180.0) };
                let fronts = [None, Some(Front::Any), Some(Front::Bearing(self.metres(180.0))), Some(face)];
                site.front = fronts[self.below(4)].clone();
            }
            6 => {
                site.underlay = site.underlay.is_none().then(|| Underlay {
                    file: "survey.png".into(),
                    at: (self.metres(90.0), self.metres(90.0)),
                    metres_per_pixel: 0.25,
                    turned_deg: self.metres(180.0),
                    strength: 0.5,
                });
            }
            _ => match &mut site.terrain {
                Terrain::Plane { height_m } => *height_m = self.metres(9.0),
                Terrain::Grid(grid) => {
                    let row = self.below(grid.rows.len());
                    let column = self.below(grid.rows[row].len());
                    grid.rows[row][column] = self.metres(9.0);
                }
            },
        }
    }

    /// One edit, made to the text and to the site.
    fn edit(&mut self, editor: &mut SiteEditor, site: &mut Site) -> Result<TextChange, EditError> {
        let [blocks, grounds, stances] = [site.blocks.len(), site.grounds.len(), site.stances.len()];
        match self.below(16) {
            0..5 if blocks > 0 => {
                let index = self.below(blocks);
                let was = site.blocks[index].name.clone();
                self.change_block(&mut site.blocks[index]);
                let block = site.blocks[index].clone();
                if was != "ground" {
                    let standing = site.stances.iter_mut().filter(|stance| stance.on.as_ref() == Some(&was));
                    standing.for_each(|stance| stance.on = Some(block.name.clone()));
                }
                if let Some(Front::Face { block: face, .. }) = &mut site.front
                    && *face == was
                {
                    face.clone_from(&block.name);
                }
                editor.set_block(index, &block)
            }
            5 | 6 if grounds > 0 => {
                let index = self.below(grounds);
                self.change_ground(&mut site.grounds[index]);
                editor.set_ground(index, &site.grounds[index])
            }
            7 | 8 if stances > 0 => {
                let index = self.below(stances);
                self.change_stance(&mut site.stances[index]);
                editor.set_stance(index, &site.stances[index])
            }
            9 | 10 => {
                self.change_head(site);
                editor.set_head(site)
            }
            11 if blocks < 20 => {
                let (at, new) = (self.below(blocks + 1), [self.block(), self.block()]);
                let new = &new[self.below(2)..];
                site.blocks.splice(at..at, new.iter().cloned());
                editor.insert_blocks(at, new)
            }
            12 if grounds < 6 => {
                let (at, new) = (self.below(grounds + 1), self.ground());
                site.grounds.insert(at, new.clone());
                editor.insert_grounds(at, &[new])
            }
            13 if stances < 9 => {
                let (at, new) = (self.below(stances + 1), Stance::plain(&self.words(), (self.metres(99.0), 0.0)));
                site.stances.insert(at, new.clone());
                editor.insert_stances(at, &[new])
            }
            14 => {
                let (list, count) =
                    [(SiteList::Blocks, blocks), (SiteList::Grounds, grounds), (SiteList::Stances, stances)]
                        [self.below(3)];
                let mut gone = vec![self.below(count), self.below(count)];
                gone.truncate(1 + self.below(2));
                let stays = |index: usize| !gone.contains(&index);
                let mut number = 0..;
                match list {
                    SiteList::Blocks => site.blocks.retain(|_| number.next().is_some_and(stays)),
                    SiteList::Grounds => site.grounds.retain(|_| number.next().is_some_and(stays)),
                    SiteList::Stances => site.stances.retain(|_| number.next().is_some_and(stays)),
                }
                editor.remove(list, &gone)
            }
            _ => {
                let (list, count) =
                    [(SiteList::Blocks, blocks), (SiteList::Grounds, grounds), (SiteList::Stances, stances)]
                        [self.below(3)];
                let (from, to) = (self.below(count), self.below(count));
                if from < count {
                    match list {
                        SiteList::Blocks => {
                            let item = site.blocks.remove(from);
                            site.blocks.insert(to, item);
                        }
                        SiteList::Grounds => {
                            let item = site.grounds.remove(from);
                            site.grounds.insert(to, item);
                        }
                        SiteList::Stances => {
                            let item = site.stances.remove(from);
                            site.stances.insert(to, item);
                        }
                    }
                }
                editor.reorder(list, from, to)
            }
        }
    }
}

#[test]
fn ten_thousand_edits_come_to_the_same_site_and_are_taken_back() {
    let windows = COMMENTED.replace('\n', "\r\n");
    let scene = |name: &str| {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenes").join(name);
        std::fs::read_to_string(path).expect("a demo site")
    };
    let scenes = ["ropewalk.site.ron", "saltings.site.ron", "wendle.site.ron"].map(scene);
    let texts = [(COMMENTED, 3500), (&windows, 2500), (ONE_LINE, 2000), (BARE, 500)];
    let texts = texts.into_iter().chain(scenes.iter().map(|scene| (scene.as_str(), 500)));
    let (mut made, mut refused) = (0, 0);
    for (number, (text, edits)) in texts.enumerate() {
        let mut chance = Chance(number as u64);
        let mut editor = SiteEditor::new(text, "random").expect("good");
        let mut changes = Vec::new();
        for _ in 0..edits {
            let (before, mut expected) = (editor.text.clone(), editor.site.clone());
            match chance.edit(&mut editor, &mut expected) {
                Ok(change) => {
                    assert!(editor.site == expected, "{change:?}\n{:?}\n{before}\n=>\n{}", expected, editor.text);
                    let mut again = before;
                    change.apply(&mut again).expect("fits");
                    assert_eq!(again, editor.text);
                    changes.push(change);
                    made += 1;
                }
                Err(error) => {
                    // What is refused would have been wrong, or asked for something that is not there.
                    assert_eq!(before, editor.text);
                    let wrong = matches!(error, EditError::NoItem { .. })
                        || check_site(&expected).iter().any(|finding| finding.severity == Severity::Error);
                    assert!(wrong, "{error}\n{before}");
                    refused += 1;
                }
            }
            if editor.text.contains("\r\n") {
                assert_eq!(editor.text.matches('\n').count(), editor.text.matches("\r\n").count());
            }
        }
        for comment in ["// before /* everything */", "// after"].iter().filter(|comment| text.contains(**comment)) {
            assert!(editor.text.contains(comment));
        }
        for change in changes.iter().rev() {
            change.inverse().apply(&mut editor.text).expect("fits");
        }
        assert_eq!(editor.text, text);
    }
    assert!(made >= 6000 && refused >= 500, "{made} made, {refused} refused");
}
