//! Which sites does the program come with? Three invented ones, each with another story.

/// A demo site.
#[derive(Clone, Copy, Debug)]
pub struct SceneFile {
    /// What its file is called, without `.site.ron`.
    pub name: &'static str,
    /// Its file.
    pub text: &'static str,
    /// The saved stance at which the window opens on it.
    pub first: &'static str,
}

/// The demo sites: a tapering stack with a stage nearby, a front on a narrow street, a square tower on a hillside.
pub const SCENES: [SceneFile; 3] = [
    SceneFile { name: "saltings", text: include_str!("../scenes/saltings.site.ron"), first: "yard, standing" },
    SceneFile { name: "ropewalk", text: include_str!("../scenes/ropewalk.site.ron"), first: "along the street" },
    SceneFile { name: "wendle", text: include_str!("../scenes/wendle.site.ron"), first: "churchyard, standing" },
];
