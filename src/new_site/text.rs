//! How is the whole file of a new site written?

use crate::site::{Site, SiteProblems, parse_site};

use super::answers::{NewSite, NewSiteProblems};
use super::around::{grounds, neighbours, stances};
use super::draft::{Draft, number, quoted};
use super::subjects::subject;

impl NewSite {
    /// The text of the site's file, as a person would have written it, with comments that say what each part is.
    ///
    /// # Errors
    /// Everything that is wrong with the answers.
    ///
    /// # Example
    /// ```
    /// use plumbsight::new_site::{NewKind, NewSite};
    /// let chimney = NewSite { base_m: 5.0, top_m: 3.0, ..NewSite::of_height(NewKind::Chimney, 36.0) };
    /// let text = chimney.text().unwrap();
    /// assert!(text.contains("shape: RoundTaper(foot_radius_m: 2.5, head_radius_m: 1.5, height_m: 36)"), "{text}");
    /// ```
    pub fn text(&self) -> Result<String, NewSiteProblems> {
        let problems = self.problems();
        if problems.is_empty() { Ok(written(self)) } else { Err(NewSiteProblems(problems)) }
    }

    /// The site, read from its text as any file is.
    ///
    /// # Errors
    /// Everything that is wrong with the answers.
    pub fn site(&self) -> Result<Site, NewSiteProblems> {
        let read = |text: String| -> Result<Site, SiteProblems> { parse_site(&text, "new.site.ron") };
        self.text().map(|text| read(text).expect("what is written here is tested to be read without a fault"))
    }
}

/// The text of a site whose answers have been checked.
fn written(new: &NewSite) -> String {
    let mut draft = Draft::new(new.front_deg);
    draft.line(0, "// Made from a few answers: what stands here, how high and how wide, who may stand where.");
    draft.line(0, "// Everything else is a guess, marked as one: correct it, or take it out.");
    draft.line(0, "// Lengths are in metres; x is east, y is north, z is up.");
    draft.line(0, "Site(");
    draft.line(4, "format: 1,");
    draft.line(4, &format!("name: {},", quoted(&new.name)));
    draft.line(4, "// Guess: level ground. Measured ground can be brought in from a file: plumbsight bring --help");
    draft.line(4, "terrain: Plane(height_m: 0),");
    draft.line(4, "// The front looks toward this compass bearing: 0 is north, 90 east, 180 south, 270 west.");
    draft.line(4, &format!("front: Bearing({}),", number(new.front_deg)));
    draft.line(4, "blocks: [");
    let extent = subject(new, &mut draft);
    neighbours(new, &extent, &mut draft);
    draft.line(4, "],");
    draft.line(4, "// Who may stand where: Open, Ask (permission is needed) or Closed.");
    draft.line(4, "grounds: [");
    grounds(new, &extent, &mut draft);
    draft.line(4, "],");
    draft.line(4, "// Where the camera stands: standing eye height unless a height is given.");
    draft.line(4, "stances: [");
    stances(new, &extent, &mut draft);
    draft.line(4, "],");
    draft.line(0, ")");
    draft.finished()
}
