//! What is a block built of, as its finish, its name and its shape say?

use crate::site::{Block, Finish, Shape};

use super::cover::Cover;

/// Words of names and what they say about walls; the first that is found counts.
const WORDS: [(&[&str], Cover); 10] = [
    (&["chimney", "stack", "kiln", "flue"], Cover::Brick),
    (&["concrete", "silo", "cooling", "bunker"], Cover::Concrete),
    (&["churchyard", "yard wall", "garden wall", "field wall"], Cover::Rubble),
    (
        &[
            "church",
            "chapel",
            "bell",
            "nave",
            "vestry",
            "abbey",
            "minster",
            "spire",
            "parapet",
            "course",
            "cornice",
            "porch",
            "plinth",
            "monument",
            "obelisk",
            "stone",
            "gate house",
        ],
        Cover::Ashlar,
    ),
    (&["scaffold", "stage", "gantry", "timber", "hut", "shed", "barn", "boards", "lean-to", "post"], Cover::Boards),
    (&["sheet", "depot", "hangar", "workshop"], Cover::Sheet),
    (&["cottage", "bakery", "villa", "school", "render"], Cover::Render),
    (&["house", "store", "mill", "works", "factory", "station", "terrace", "brick", "chandler", "inn"], Cover::Brick),
    (&["steps", "stairs"], Cover::Concrete),
    (&["wall"], Cover::Rubble),
];

/// Names of parts that are no building: nothing opens in them.
const SOLID: [&str; 13] = [
    "stage", "step", "plinth", "parapet", "course", "cornice", "post", "tank", "wall", "porch", "cap", "bollard",
    "gantry",
];

pub(super) fn has_word(block: &Block, words: &[&str]) -> bool {
    let name = block.name.to_lowercase();
    words.iter().any(|word| name.contains(word))
}

/// What a block's walls are made of.
pub(super) fn walls(block: &Block) -> Cover {
    let by_finish = match block.finish {
        Finish::Brick => Some(Cover::Brick),
        Finish::Ashlar => Some(Cover::Ashlar),
        Finish::Rubble => Some(Cover::Rubble),
        Finish::Render => Some(Cover::Render),
        Finish::Boards => Some(Cover::Boards),
        Finish::Sheet => Some(Cover::Sheet),
        Finish::Concrete => Some(Cover::Concrete),
        Finish::Steel => Some(Cover::Steel),
        Finish::Leaf => Some(Cover::Leaves),
        Finish::Card | Finish::Grey | Finish::Dark => None,
    };
    let by_name = || WORDS.iter().find(|(words, _)| has_word(block, words)).map(|&(_, cover)| cover);
    by_finish.or_else(by_name).unwrap_or(match block.shape {
        Shape::RoundTaper { height_m, .. } if height_m > 8.0 => Cover::Brick,
        Shape::RoundTaper { .. } | Shape::Mast { .. } => Cover::Steel,
        Shape::PolygonTaper { .. } => Cover::Ashlar,
        Shape::Dome { .. } => Cover::Lead,
        Shape::Facade { .. } | Shape::Gable { .. } | Shape::Hip { .. } => Cover::Brick,
        Shape::Box { .. } | Shape::Prism { .. } => Cover::Render,
        Shape::Wall { .. } => Cover::Rubble,
        Shape::Steps { .. } => Cover::Concrete,
        Shape::Stage { .. } => Cover::Boards,
        Shape::Tree { .. } => Cover::Leaves,
    })
}

/// What its sloping roof is made of.
pub(super) fn roof(block: &Block, walls: Cover, seed: u32) -> Cover {
    match walls {
        Cover::Boards | Cover::Sheet => Cover::Sheet,
        Cover::Render if seed.is_multiple_of(2) => Cover::Tiles,
        Cover::Brick if !block.subject && !has_word(block, &["engine", "boiler", "mill"]) && seed.is_multiple_of(3) => {
            Cover::Tiles
        }
        Cover::Brick
        | Cover::Render
        | Cover::Ashlar
        | Cover::Rubble
        | Cover::Concrete
        | Cover::Slates
        | Cover::Tiles
        | Cover::Lead
        | Cover::Steel
        | Cover::Leaves
        | Cover::Bark
        | Cover::Paint => Cover::Slates,
    }
}

/// Whether it is a building with openings, as far as a name and a size can tell.
pub(super) fn has_openings(block: &Block) -> bool {
    let large = match block.shape {
        Shape::Box { width_m, depth_m, height_m } => height_m >= 2.6 && width_m.min(depth_m) >= 2.6,
        Shape::Gable { width_m, depth_m, eaves_m, .. } | Shape::Hip { width_m, depth_m, eaves_m, .. } => {
            eaves_m >= 2.2 && width_m.min(depth_m) >= 2.6
        }
        Shape::Prism { height_m, .. } => height_m >= 2.6,
        Shape::Facade { .. } => true,
        Shape::RoundTaper { .. }
        | Shape::PolygonTaper { .. }
        | Shape::Dome { .. }
        | Shape::Steps { .. }
        | Shape::Wall { .. }
        | Shape::Stage { .. }
        | Shape::Mast { .. }
        | Shape::Tree { .. } => false,
    };
    large && block.leans.is_none() && !has_word(block, &SOLID)
}
