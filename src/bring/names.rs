//! What is each block called, so that no two are called the same?

use std::collections::{BTreeMap, BTreeSet};

use crate::site::Site;

/// The names that are given to blocks, each once.
#[derive(Default)]
pub(super) struct Names {
    taken: BTreeSet<String>,
    of_site: BTreeSet<String>,
    /// How many wanted names the site already has.
    met: usize,
    /// For each block the name that it was given and the feature that it came from.
    given: Vec<(String, (usize, usize))>,
    /// The number that the next block of a wanted name is tried with.
    next: BTreeMap<String, usize>,
}

impl Names {
    pub(super) fn of(site: Option<&Site>) -> Self {
        let of_site: BTreeSet<String> =
            site.map(|site| site.blocks.iter().map(|block| block.name.clone()).collect()).unwrap_or_default();
        Self { taken: of_site.clone(), of_site, ..Self::default() }
    }

    /// A name as near to the wanted one as is free; `source` tells which file and feature it is for.
    pub(super) fn give(&mut self, wanted: &str, source: (usize, usize)) -> String {
        self.met += usize::from(self.of_site.contains(wanted));
        let mut name = wanted.to_owned();
        if self.taken.contains(&name) {
            let number = self.next.entry(wanted.to_owned()).or_insert(2);
            loop {
                name = format!("{wanted} ({number})");
                *number += 1;
                if !self.taken.contains(&name) {
                    break;
                }
            }
        }
        self.taken.insert(name.clone());
        self.given.push((name.clone(), source));
        name
    }

    /// The blocks, by their order, of the feature whose first block has this name, whatever its case.
    pub(super) fn parts_of(&self, name: &str) -> Vec<usize> {
        let exact = self.given.iter().find(|(given, _)| given == name);
        let folded = name.to_lowercase();
        let found = exact.or_else(|| self.given.iter().find(|(given, _)| given.to_lowercase() == folded));
        let Some((_, source)) = found else { return Vec::new() };
        self.given.iter().enumerate().filter(|(_, (_, of))| of == source).map(|(index, _)| index).collect()
    }

    /// What to warn of.
    pub(super) fn warning(&self) -> Option<String> {
        (self.met > 0).then(|| {
            format!(
                "{} already on the site under the same name and got a number: was this file brought before?",
                if self.met == 1 { "1 block is".into() } else { format!("{} blocks are", self.met) }
            )
        })
    }
}
