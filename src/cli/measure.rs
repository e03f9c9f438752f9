//! `plumbsight measure`: what leans from here, by how much, and what would straightening cost?

use std::path::PathBuf;

use clap::Args;

use crate::angle::Angle;
use crate::appraise::{Account, FinalPicture, Measures, SEEN_SHARE, SHORTEST_STRETCH};
use crate::light::{Moment, Sky, Zone};
use crate::optics::Proportion;
use crate::plan::packed_bag;
use crate::record::{FrontRecord, IfTallerRecord, LineRecord, Record, ToleranceRecord, VerdictRecord};
use crate::site::{Stance, Sun};
use crate::survey::{MeasureSettings, Measured, Survey};
use crate::taller::{VerdictChange, WhatIfTaller, what_if_taller};
use crate::tolerance::{EXACTLY_M, FARTHEST_M, LEAN_CHANGE_DEG, ToleranceEnd};
use crate::units::Units;
use crate::verticals::READS_UPRIGHT_DEG;
use crate::ways::{Options, ways};
use crate::wording;

use super::light::level_by_table;
use super::request::{StanceArguments, plan_ending, sun, survey, threshold};
use super::show::{angle, dash, page_width, percent, print, prose_width, tell};
use super::table::{TextTable, wrapped};
use super::{Ending, Outcome};

/// How many verticals a table lists.
const LISTED: usize = 12;

/// What to measure.
#[derive(Args, Debug)]
pub(super) struct MeasureArguments {
    /// The site file
    #[arg(value_name = "SITE")]
    site: PathBuf,
    /// The unit of lengths
    #[arg(long, value_enum, default_value_t)]
    units: Units,
    /// Print the record, or a list of records, as JSON
    #[arg(long, conflicts_with = "ron")]
    json: bool,
    /// Print the record, or a list of records, as RON
    #[arg(long)]
    ron: bool,
    #[command(flatten)]
    stance: StanceArguments,
    #[command(flatten)]
    measures: MeasureOptions,
}

/// How to measure.
#[derive(Args, Debug)]
#[command(next_help_heading = "Measuring")]
pub(super) struct MeasureOptions {
    /// The largest lean that is upright: critical (0.2°), usual (0.6°), lenient (1.0°), or in degrees
    #[arg(long, value_name = "DEG", value_parser = threshold, default_value_t = READS_UPRIGHT_DEG)]
    upright: f64,
    /// The shortest visible stretch of a line that counts for the whole picture's lean, as a share of the frame's height
    #[arg(long, value_name = "SHARE", default_value_t = SHORTEST_STRETCH)]
    shortest_stretch: f64,
    /// The share of the subject that must be seen, from 0 to 1
    #[arg(long, value_name = "SHARE", default_value_t = SEEN_SHARE)]
    seen: f64,
    /// How much of the convergence to keep when straightening, from 0 (none) to 1 (all)
    #[arg(long, alias = "tilt-left", value_name = "SHARE", default_value_t = 0.0)]
    keep_convergence: f64,
    // Scripts of earlier days: of the straightened picture alone, while --aspect crops the frame as well.
    #[arg(long, value_name = "W:H", hide = true)]
    proportion: Option<Proportion>,
    /// The lowest detail that is wanted, in pixels per metre: the tolerance ends where it is less
    #[arg(long, value_name = "PX/M")]
    detail: Option<f64>,
    /// The change of lean that the tolerance allows where the subject is not upright, in degrees
    #[arg(long, alias = "slack", value_name = "DEG", default_value_t = LEAN_CHANGE_DEG)]
    tolerance: f64,
    /// The sun's position: azimuth from true north and altitude, in degrees
    #[arg(long, value_name = "AZ,ALT", value_parser = sun, allow_hyphen_values = true)]
    pub(super) sun: Option<Sun>,
    /// The moment that it is planned for: the site's own time as 2026-06-21T14:30, or with its offset (RFC 3339). The sun then
    /// stands where it does at that moment, unless --sun puts it elsewhere
    #[arg(long, value_name = "TIME", allow_hyphen_values = true)]
    pub(super) moment: Option<String>,
    /// A tide table: CSV with time,height_m; the water stands as it says for --moment
    #[arg(long, value_name = "FILE", requires = "moment")]
    pub(super) tide: Option<PathBuf>,
    /// The resolution of the largest print, in pixels per inch
    #[arg(long, value_name = "PPI", default_value_t = 300.0)]
    ppi: f64,
}

impl Default for MeasureOptions {
    fn default() -> Self {
        Self {
            upright: READS_UPRIGHT_DEG,
            shortest_stretch: SHORTEST_STRETCH,
            seen: SEEN_SHARE,
            detail: None,
            keep_convergence: 0.0,
            proportion: None,
            tolerance: LEAN_CHANGE_DEG,
            sun: None,
            moment: None,
            tide: None,
            ppi: 300.0,
        }
    }
}

impl MeasureOptions {
    pub(super) fn settings(&self) -> Result<MeasureSettings, Ending> {
        for (what, value, low, high) in [
            ("--upright", self.upright, 0.0, 90.0),
            ("--shortest-stretch", self.shortest_stretch, 0.0, 1.0),
            ("--seen", self.seen, 0.0, 1.0),
            ("--keep-convergence", self.keep_convergence, 0.0, 1.0),
            ("--tolerance", self.tolerance, 1e-6, 45.0),
            ("--ppi", self.ppi, 1.0, 10_000.0),
        ] {
            if !(low..=high).contains(&value) {
                return Err(Ending::BadInput(format!("{what} is {value}; it must lie between {low} and {high}")));
            }
        }
        if let Some(value) = self.detail.filter(|value| !(0.0..=1e9).contains(value)) {
            return Err(Ending::BadInput(format!("--detail is {value}; it must lie between 0 and 1000000000")));
        }
        Ok(MeasureSettings {
            measures: Measures {
                upright: Angle::from_degrees(self.upright),
                shortest_stretch: self.shortest_stretch,
                seen_share: self.seen,
                wanted_detail: self.detail,
                tilt_left: self.keep_convergence,
                proportion: self.proportion.map(Proportion::ratio),
            },
            lean_change: Some(Angle::from_degrees(self.tolerance)),
            sun: self.sun,
            moment: None,
        })
    }

    /// The same on a site, by whose clocks the moment is read; and the site with the water as the tide has it then.
    pub(super) fn on(&self, mut survey: Survey) -> Result<(Survey, MeasureSettings), Ending> {
        let moment = self.moment_on(&survey)?;
        if let (Some(path), Some(moment)) = (&self.tide, moment) {
            let zone = Zone::of(&survey.model.site)?;
            survey = survey.flooded(level_by_table(path, &zone, moment)?);
        }
        Ok((survey, MeasureSettings { moment, ..self.settings()? }))
    }

    /// The moment by the clocks of a site.
    pub(super) fn moment_on(&self, survey: &Survey) -> Result<Option<Moment>, Ending> {
        let Some(text) = &self.moment else { return Ok(None) };
        let whose = |error| Ending::from(error).of("--moment");
        let sky = Sky::over(&survey.model.site).map_err(whose)?;
        Ok(Some(sky.zone().read(text).map_err(whose)?.moment))
    }
}

/// Writes into a record what the ways say: the cheapest and the best mend where anything is wrong, and what would let the picture
/// be straightened where it cannot be.
fn advise(
    record: &mut Record,
    survey: &Survey,
    stance: &Stance,
    settings: &MeasureSettings,
    bag: Vec<String>,
    units: Units,
) {
    let upright = record.verdict.as_ref().is_none_or(|verdict| verdict.upright);
    let Some(found) =
        (!upright).then(|| ways(survey, stance, settings, &Options { bag, ..Options::default() }).ok()).flatten()
    else {
        return;
    };
    if let Some(verdict) = &mut record.verdict {
        verdict.sentence = found.sentence(units);
    }
    if let Some(why_not) = record.final_picture.as_mut().and_then(|picture| picture.why_not.as_mut())
        && let Some(helps) = found.straightener_words()
    {
        why_not.push_str(&format!("; {helps}"));
    }
}

/// Writes down what becomes of the verdict if the subject is taller or shorter.
fn if_taller_record(what_if: &WhatIfTaller, units: Units) -> IfTallerRecord {
    let by_m = |change: &Option<VerdictChange>| change.as_ref().map(|change| change.by_m);
    IfTallerRecord {
        height_m: what_if.height_m,
        height_pm_m: what_if.pm_m,
        taller_by_m: by_m(&what_if.taller),
        shorter_by_m: by_m(&what_if.shorter),
        sentences: what_if.sentences(units),
    }
}

/// How uncertain the subject's height is, how it was found, and what that does to the verdict.
fn if_taller_words(what_if: &WhatIfTaller, units: Units) -> String {
    let found = what_if.found.as_ref().map_or_else(String::new, |found| format!(": {found}"));
    format!(
        "Height of {}, {} ± {}{found}.\n{}\n",
        what_if.block,
        units.length(what_if.height_m, 1),
        units.length(what_if.pm_m, 1),
        what_if.sentences(units).join("\n")
    )
}

/// Takes up a stance, measures all there is and writes it down.
pub(super) fn recorded(
    survey: &Survey,
    stance: &Stance,
    settings: &MeasureSettings,
) -> Result<(Measured, Record), Ending> {
    let measured = survey.measure(stance, settings)?;
    let record = survey.record(stance, &measured, settings);
    Ok((measured, record))
}

pub(super) fn run(arguments: &MeasureArguments) -> Outcome {
    let survey = survey(&arguments.site)?;
    let (survey, settings) = arguments.measures.on(survey)?;
    if !arguments.stance.is_empty() {
        let stance = arguments.stance.stance(&survey)?;
        let (measured, mut record) = recorded(&survey, &stance, &settings)?;
        let bag = packed_bag(&arguments.site).map_err(plan_ending)?.unwrap_or_default();
        // Files are metric.
        let units = if arguments.json || arguments.ron { Units::M } else { arguments.units };
        advise(&mut record, &survey, &stance, &settings, bag, units);
        let if_taller = what_if_taller(&survey, &stance, &settings);
        record.if_taller = if_taller.as_ref().map(|what_if| if_taller_record(what_if, units));
        return if arguments.json {
            print(&record.to_json())
        } else if arguments.ron {
            print(&record.to_ron())
        } else {
            let mut text = summary(&record, &measured.account, &arguments.measures, arguments.units);
            if let Some(what_if) = &if_taller {
                text.push_str(&if_taller_words(what_if, arguments.units));
            }
            tell(&text)
        };
    }
    if survey.model.site.stances.is_empty() {
        return Err(Ending::BadInput(
            "this site has no saved stances; give a standpoint: --at E,N or --eye E,N,U".into(),
        ));
    }
    let rows: Vec<_> = survey
        .model
        .site
        .stances
        .iter()
        .map(|stance| (stance, recorded(&survey, stance, &settings).map(|(_, record)| record)))
        .collect();
    if arguments.json || arguments.ron {
        let named = |(stance, record): (&Stance, Result<Record, Ending>)| {
            record.map_err(|ending| ending.of(&format!("stance '{}'", stance.name)))
        };
        let records: Result<Vec<Record>, Ending> = rows.into_iter().map(named).collect();
        let records = records?;
        let layout = ron::ser::PrettyConfig::new().struct_names(false);
        return print(&if arguments.json {
            serde_json::to_string_pretty(&records).map_err(Ending::bad)?
        } else {
            crate::files::ron_options().to_string_pretty(&records, layout).map_err(Ending::bad)?
        });
    }
    tell(&format!("{}\n\n{}", survey.model.site.name, comparison(&rows, arguments.units)))
}

/// All stances side by side.
pub(super) fn comparison(rows: &[(&Stance, Result<Record, Ending>)], units: Units) -> String {
    let mut table = TextTable::new(&[
        "Stance",
        "distance",
        "camera height",
        "lens",
        "pitch",
        "convergence",
        "largest lean",
        "upright",
        "largest lean in picture",
        "taper",
        "lowest detail",
        "at the top",
        "seen",
        "in frame",
        "final picture",
    ]);
    for (stance, record) in rows {
        match record {
            Ok(record) => table.row(comparison_row(&stance.name, record, units)),
            Err(Ending::NoAnswer(why) | Ending::BadInput(why)) => table.noted([stance.name.clone()], why.clone()),
            Err(Ending::Unread) => {}
        }
    }
    table.fitted(page_width())
}

fn comparison_row(name: &str, record: &Record, units: Units) -> Vec<String> {
    let subject = record.subject.as_ref();
    let of = |figure: &dyn Fn(&crate::record::SubjectRecord) -> Option<f64>| subject.and_then(figure);
    vec![
        name.into(),
        of(&|s| s.distance_m).map_or_else(dash, |m| units.length(m, 1)),
        record.stance.height_m.map_or_else(dash, |m| units.length(m, 2)),
        lens_words(record),
        angle(Some(record.stance.pitch_deg)),
        angle(of(&|s| s.convergence_deg)),
        angle(of(&|s| s.largest_lean_deg)),
        record.verdict.as_ref().map_or_else(dash, upright_words),
        angle(record.largest_lean_in_picture_deg),
        of(&|s| s.seen_taper).map_or_else(dash, |taper| format!("{taper:.2}")),
        of(&|s| s.detail_px_per_m.lowest).map_or_else(dash, |detail| units.detail(detail)),
        of(&|s| s.top_elevation_deg).map_or_else(dash, look_words),
        percent(of(&|s| s.visible_share)),
        percent(of(&|s| s.in_frame_share)),
        record.final_picture.as_ref().map_or_else(dash, |picture| {
            let share = record.straightened.as_ref().map_or(0.0, |straightened| straightened.subject_cut_share);
            let none = || if share > 0.0 { format!("cuts {}", wording::percent(share)) } else { "no room".to_owned() };
            picture.megapixels.map_or_else(none, |mp| format!("{mp:.1} MP"))
        }),
    ]
}

/// Whether a picture is upright, in a word or two.
fn upright_words(verdict: &VerdictRecord) -> String {
    match (verdict.upright, verdict.subject_upright) {
        (true, _) => "yes",
        (false, Some(true)) => "in part",
        _ => "no",
    }
    .into()
}

fn lens_words(record: &Record) -> String {
    let camera = &record.camera;
    let held = match camera.orientation {
        crate::optics::Orientation::Landscape => "landscape",
        crate::optics::Orientation::Portrait => "portrait",
    };
    let mut words = format!("{:.0} mm, {held}", camera.focal_mm);
    if camera.rise_mm != 0.0 {
        words.push_str(&format!(", rise {:.1} mm", camera.rise_mm));
    }
    words
}

/// A number to its first decimal; zero without a sign.
fn round_tenth(value: f64) -> f64 {
    (value * 10.0).round() / 10.0 + 0.0
}

/// How steeply one looks up, or down.
fn look_words(elevation_deg: f64) -> String {
    format!("{} {:.0}°", if elevation_deg >= 0.0 { "up" } else { "down" }, elevation_deg.abs())
}

/// Everything of one stance, in words.
fn summary(record: &Record, account: &Account, options: &MeasureOptions, units: Units) -> String {
    let mut text = String::new();
    let mut line = |words: String| {
        text.push_str(&words);
        text.push('\n');
    };
    let (stance, camera) = (&record.stance, &record.camera);
    if let Some(verdict) = &record.verdict {
        line(wrapped(&verdict.sentence, prose_width()).join("\n"));
        line(String::new());
    }
    line(format!("{}, {}", record.site.name, stance.described.name));
    let [east, north, up] = stance.eye_m;
    line(format!(
        "  eye {}, {}, {} (east, north, up){}",
        units.length(east, 2),
        units.length(north, 2),
        units.length(up, 2),
        stance.height_m.map_or_else(String::new, |height| format!(
            "; {} above {}",
            units.length(height, 2),
            stance.stands_on.as_deref().unwrap_or("the ground")
        )),
    ));
    line(format!(
        "  {} {}, {} at {:.1} mm ({:.0} mm equivalent), f/{}; heading {:.1}°, pitch {}, roll {}",
        camera.format,
        if camera.orientation == crate::optics::Orientation::Portrait { "portrait" } else { "landscape" },
        camera.lens,
        camera.focal_mm,
        camera.equivalent_focal_mm,
        camera.f_number,
        round_tenth(stance.heading_deg) % 360.0,
        wording::degrees(stance.pitch_deg),
        wording::degrees(stance.roll_deg),
    ));
    if camera.rise_mm != 0.0 || camera.shift_mm != 0.0 {
        line(format!(
            "  rise {:.2} mm, shift {:.2} mm; needs an image circle of {:.1} mm{}",
            camera.rise_mm,
            camera.shift_mm,
            camera.needed_circle_mm,
            camera.lens_circle_mm.map_or_else(String::new, |circle| format!(", the lens has {circle:.1} mm")),
        ));
    }
    line(format!(
        "  sharp from {} to {}",
        units.length(camera.sharp_from_m, 1),
        camera.sharp_to_m.map_or_else(|| "infinity".into(), |far| units.length(far, 1)),
    ));
    line(String::new());
    line(subject_words(record, account, options.ppi, units));
    line(String::new());
    line(lines_words("Verticals", &record.verticals));
    if !record.sides.is_empty() {
        line(lines_words("Sides (the subject's own shape, never counted as verticals)", &record.sides));
    }
    for (tolerance, moved) in [
        (&record.tolerance, "the camera aimed anew after the move, as a tripod is carried"),
        (&record.tolerance_as_set, "the camera left as it is set"),
    ] {
        let Some(tolerance) = tolerance else { continue };
        line(format!("Tolerance, {moved}; beyond it:"));
        line(tolerance_words(tolerance, units));
    }
    for caution in &record.cautions {
        line(format!("Caution: {}", caution.text));
    }
    text
}

fn subject_words(record: &Record, account: &Account, ppi: f64, units: Units) -> String {
    let Some(subject) = &record.subject else {
        return "No block of this site is marked as the subject, so there is nothing to measure.".into();
    };
    let mut rows = TextTable::new(&["", ""]).with_notes("");
    let mut row = |what: &str, value: String, more: String| rows.noted([format!("  {what}"), value], more);
    let convergence_deg = subject.convergence_deg;
    row(
        &format!("the subject {} by", wording::converges(convergence_deg.unwrap_or(0.0))),
        angle(convergence_deg.map(f64::abs)),
        subject.why.clone().unwrap_or_else(|| subject.blocks.join(", ")),
    );
    row(
        "largest lean of the subject",
        angle(subject.largest_lean_deg),
        subject.reads_upright.map_or_else(dash, |yes| {
            let verdict = if yes { "upright" } else { "not upright" };
            format!("{verdict} (up to {}°)", subject.upright_threshold_deg)
        }),
    );
    row(
        "largest lean in the picture",
        angle(record.largest_lean_in_picture_deg),
        record.largest_lean_in_picture_block.clone().unwrap_or_default(),
    );
    if let (Some(seen), Some(shape)) = (subject.seen_taper, subject.shape_taper) {
        let tilt = subject.tilt_factor.map_or_else(dash, |factor| format!("{factor:.2}"));
        let nominal = subject.nominal_taper.map_or_else(String::new, |ratio| format!("; {ratio:.2} in the model"));
        row("taper, top to base", format!("{seen:.2}"), format!("{shape:.2} true taper × {tilt} tilt{nominal}"));
    }
    if subject.sides_convergence_deg.is_some() {
        row("its sides converge by", angle(subject.sides_convergence_deg), "true taper and tilt together".into());
    }
    // Zero has no sign.
    match record.vanishing_point_mm.map(|millimetres| millimetres.map(round_tenth)) {
        Some([right, up]) => row(
            "verticals meet",
            format!("{:.1} mm {}", up.abs(), if up >= 0.0 { "up" } else { "down" }),
            format!("{:.1} mm {} of the centre", right.abs(), if right >= 0.0 { "right" } else { "left" }),
        ),
        None => row("verticals meet", dash(), "too far away to say where".into()),
    }
    if let Some(off) = subject.off_square_deg {
        row(
            "off square to its front",
            angle(Some(off)),
            format!(
                "its horizontals converge by {}{}",
                angle(subject.horizontals_converge_deg),
                subject.front.as_ref().map_or_else(String::new, front_words)
            ),
        );
    }
    let detail = |value: Option<f64>| value.map_or_else(dash, |px| units.detail(px));
    let places = &subject.detail_px_per_m;
    row(
        "lowest detail",
        detail(places.lowest),
        format!(
            "{}; base {}, middle {}, top {}",
            subject.detail_mm_per_px.lowest.map_or_else(dash, |mm| units.per_pixel(mm)),
            detail(places.base),
            detail(places.middle),
            detail(places.top)
        ),
    );
    row("looking", subject.top_elevation_deg.map_or_else(dash, look_words), "at the top".into());
    row("seen", percent(subject.visible_share), format!("{} in the frame", percent(subject.in_frame_share)));
    if let Some(picture) = &account.final_picture {
        let said = record.final_picture.as_ref().and_then(|picture| picture.why_not.clone());
        row(
            "final picture",
            picture.map_or_else(|_| dash(), |kept| format!("{:.1} MP", kept.megapixels())),
            said.unwrap_or_else(|| {
                picture.map_or_else(|failure| failure.words(), |kept| final_words(&kept, ppi, units))
            }),
        );
    }
    rows.fitted(page_width())
}

/// How far the stance may be off in each direction, and what happens beyond.
fn tolerance_words(tolerance: &ToleranceRecord, units: Units) -> String {
    let mut rows = TextTable::new(&["", ""]).with_notes("");
    let ended = |direction: &str| {
        tolerance.ends.get(direction).map_or_else(String::new, |end| match end.as_str() {
            "lean" => format!("a lean changes by {}°", tolerance.lean_change_deg),
            end => {
                ToleranceEnd::ALL.into_iter().find(|known| known.key() == end).map_or("", ToleranceEnd::words).into()
            }
        })
    };
    let mut row =
        |direction: &str, words: &str, value: String| rows.noted([format!("  {words}"), value], ended(direction));
    for (direction, words, metres) in [
        ("left", "left", tolerance.left_m),
        ("right", "right", tolerance.right_m),
        ("forward", "nearer", tolerance.forward_m),
        ("back", "farther", tolerance.back_m),
        ("up", "higher", tolerance.up_m),
        ("down", "lower", tolerance.down_m),
    ] {
        let value = match metres {
            None => format!("over {}", units.length(FARTHEST_M, 0)),
            // Nobody can stand so exactly: it takes a margin the other way.
            Some(metres) if metres < EXACTLY_M => {
                format!("at its limit: give {} the other way", units.length(EXACTLY_M, 2))
            }
            Some(metres) => units.length(metres, 2),
        };
        row(direction, words, value);
    }
    for (direction, degrees) in
        [("pitch", tolerance.pitch_deg), ("heading", tolerance.heading_deg), ("roll", tolerance.roll_deg)]
    {
        row(direction, direction, degrees.map_or_else(|| "any".into(), |deg| format!("±{deg:.2}°")));
    }
    rows.fitted(page_width())
}

/// Which side is the front, whether that is a guess, and how far aside of it one stands.
fn front_words(front: &FrontRecord) -> String {
    let guessed = if front.named { "" } else { ", guessed" };
    let bearing = round_tenth(front.toward_deg) % 360.0;
    format!("; the front looks toward {bearing:.0}°{guessed}, seen from {} aside", angle(Some(front.angle_deg.abs())))
}

/// What is done to the final picture, how finely it draws and how large it prints.
fn final_words(kept: &FinalPicture, ppi: f64, units: Units) -> String {
    let done = if kept.straightened { "straightened" } else { "as taken" };
    let margins = if kept.margins_kept { "" } else { ", margins cut" };
    let detail = kept.lowest_detail.map_or_else(dash, |detail| units.detail(detail.px_per_m));
    let (width_mm, height_mm) = kept.print_mm(ppi);
    let without_mp = kept.megapixels_without_margins;
    let cost = if kept.margins_kept && without_mp > 1.1 * kept.megapixels() {
        format!("; {without_mp:.1} MP without margins")
    } else {
        String::new()
    };
    format!("{done}{margins}; detail {detail}; print {width_mm:.0} × {height_mm:.0} mm at {ppi:.0} ppi{cost}")
}

fn lines_words(title: &str, lines: &[LineRecord]) -> String {
    let mut shown: Vec<&LineRecord> =
        lines.iter().filter(|line| line.lean_deg.is_some() && line.visible != Some(false)).collect();
    shown.sort_by(|a, b| {
        let lean = |line: &LineRecord| line.lean_deg.map_or(0.0, f64::abs);
        b.subject.cmp(&a.subject).then(lean(b).total_cmp(&lean(a)))
    });
    let mut rows = TextTable::new(&["  block", "lean", "line bend", "base, px", "top, px"]);
    let place = |px: Option<[f64; 2]>| px.map_or_else(dash, |[x, y]| format!("{x:.0}, {y:.0}"));
    for line in shown.iter().take(LISTED) {
        rows.row([
            format!("  {}{}", line.block, if line.subject { " (subject)" } else { "" }),
            angle(line.lean_deg),
            line.line_bend_percent.map_or_else(dash, |line_bend| format!("{line_bend:.2} %")),
            place(line.base_px),
            place(line.top_px),
        ]);
    }
    let rest = lines.len() - shown.len().min(LISTED);
    let more = if rest > 0 {
        format!("\n  {rest} more lines are hidden, outside the frame or lean less: --json lists them")
    } else {
        String::new()
    };
    format!("{title}\n{}{more}\n", rows.fitted(page_width()))
}
