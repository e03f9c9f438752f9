//! Where would the picture come out straight, as a map to look at or to print?
//!
//! The search's figure in the colours of its ramp, cell by cell as it was found, under the plan of the site; below it a
//! legend that says what each colour and each hatching means, and what is written nowhere: what was not looked at.

use crate::search::{Map, MapFigure, PlaceStatus};
use crate::still::Picture;
use crate::survey::Survey;
use crate::theme::{Colour, Theme};
use crate::units::Units;

use super::canvas::{BEYOND_PT, Canvas};
use super::{
    Align, CanvasPoint, Drawing, Mark, Pin, PlanLabels, PlanRequest, PlanView, Ramp, Role, Room, SiteShapes, TITLE_PT,
    Text, Weight, plan, written,
};

/// The width of the sheet, and the least and greatest height of its plan.
const WIDTH_PT: f64 = 900.0;
const HEIGHTS_PT: (f64, f64) = (360.0, 1000.0);
/// From the sheet's sides to what stands in the legend.
const MARGIN_PT: f64 = 16.0;
/// The ramp of the legend.
const RAMP_PT: (f64, f64) = (340.0, 14.0);
/// From line to line of the legend.
const LINE_PT: f64 = 22.0;
/// A sample of a colour or hatching in the legend.
const SAMPLE_PT: (f64, f64) = (26.0, 14.0);
/// From line to line of a hatching, and how wide a line is.
const HATCH_PT: f64 = 7.0;
const HATCH_LINE_PT: f64 = 1.0;
/// The most marks along the ramp.
const TICKS: usize = 6;

/// What a map is drawn from.
#[derive(Clone, Copy, Debug)]
pub struct MapRequest<'a> {
    /// The site.
    pub survey: &'a Survey,
    /// Its shapes, made once.
    pub shapes: &'a SiteShapes,
    /// What was found.
    pub map: &'a Map,
    /// Which figure is shown.
    pub figure: MapFigure,
    /// Places that are pointed out: those of the list.
    pub pins: &'a [Pin],
    /// The unit of its lengths.
    pub units: Units,
    /// On paper or at dusk.
    pub theme: Theme,
}

/// A map with its legend, ready to become a picture.
#[derive(Debug)]
pub struct MapSheet<'a> {
    request: MapRequest<'a>,
    drawing: Drawing,
    view: PlanView,
    ramp: Option<Ramp>,
    /// Where colours and hatchings are explained.
    samples: Vec<(Room, LegendEntry)>,
}

/// What the legend shows in a place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum LegendEntry {
    /// The ramp from its start to its end.
    Ramp,
    NoValueKind(NoValueKind),
}

/// What is seen of a cell that has no value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum NoValueKind {
    /// One can stand there.
    NoValue,
    /// Nearer or farther than was required.
    Apart,
    /// Closed or to be asked for, water, or built over.
    Nobody,
    /// Nobody has looked.
    NotComputed,
}

impl NoValueKind {
    const ALL: [Self; 4] = [Self::NoValue, Self::Apart, Self::Nobody, Self::NotComputed];

    fn of(ground: PlaceStatus) -> Self {
        match ground {
            PlaceStatus::Looked => Self::NoValue,
            PlaceStatus::TooNear | PlaceStatus::TooFar => Self::Apart,
            PlaceStatus::Closed | PlaceStatus::Water | PlaceStatus::Occupied => Self::Nobody,
            PlaceStatus::Unknown => Self::NotComputed,
        }
    }

    const fn words(self) -> &'static str {
        match self {
            Self::NoValue => "no value: the subject is hidden or cut off, or a requirement fails",
            Self::Apart => "too near or too far",
            Self::Nobody => "left out: closed, permission needed, water, or occupied",
            Self::NotComputed => "not computed",
        }
    }

    /// Its colour at a place of the canvas.
    ///
    /// The hatching lies on the ground, from where the site's origin is, as that of closed ground on the plan does.
    fn colour(self, at: CanvasPoint, origin: CanvasPoint, theme: Theme) -> Colour {
        let palette = theme.palette();
        let (x, y) = (at.0 - origin.0, at.1 - origin.1);
        let on_line = |across: f64, apart_pt: f64| (across + 0.5 * HATCH_LINE_PT).rem_euclid(apart_pt) < HATCH_LINE_PT;
        let slanted = (x + y) * std::f64::consts::FRAC_1_SQRT_2;
        match self {
            Self::NoValue => Role::Well.colour(palette),
            Self::Apart => Role::Panel.colour(palette),
            Self::Nobody if on_line(slanted, HATCH_PT) => Role::Soft.colour(palette),
            Self::NotComputed => {
                let dot = [x, y].map(|along| on_line(along, HATCH_PT));
                if dot == [true, true] { Role::Ink.colour(palette) } else { Role::Panel.colour(palette) }
            }
            Self::Nobody => Role::Panel.colour(palette),
        }
    }
}

impl<'a> MapSheet<'a> {
    /// The map of a figure, drawn as a plan with its legend.
    pub fn of(request: MapRequest<'a>) -> Self {
        let map = request.map;
        let (west, south) = map.corner();
        let size = |count: u32| f64::from(count) * map.spacing_m();
        let (across_m, up_m) = (size(map.columns()).max(1e-9), size(map.rows()));
        let height_pt = (WIDTH_PT * up_m / across_m).clamp(HEIGHTS_PT.0, HEIGHTS_PT.1);
        let view = PlanView::around([(west, south), (west + across_m, south + up_m)], WIDTH_PT, height_pt);
        let plan = plan(&PlanRequest {
            survey: request.survey,
            shapes: request.shapes,
            measured: None,
            pins: request.pins,
            walks: &[],
            view,
            units: request.units,
            titled: false,
            labels: PlanLabels::default(),
        });
        let view = plan.plan.unwrap_or(view);
        let mut sheet =
            Self { request, drawing: plan, view, ramp: Ramp::for_figure(request.figure, map), samples: Vec::new() };
        sheet.legend();
        sheet
    }

    /// What is drawn over the colours of the cells: the plan, and below it the legend.
    pub fn drawing(&self) -> &Drawing {
        &self.drawing
    }

    /// What the map shows of the world.
    pub fn view(&self) -> &PlanView {
        &self.view
    }

    /// The ramp of its colours; `None` where no place has the figure.
    pub fn ramp(&self) -> Option<&Ramp> {
        self.ramp.as_ref()
    }

    /// The map as a picture of so many pixels a point; `None` where a side would have no pixel or more than 16,000.
    pub fn picture(&self, pixels_per_point: f64) -> Option<Picture> {
        self.drawing.picture_over(self.request.theme, pixels_per_point, Some(&|at| self.colour(at)))
    }

    /// What lies under the drawing at a place of the canvas.
    fn colour(&self, at: CanvasPoint) -> Option<Colour> {
        let (theme, origin) = (self.request.theme, self.view.point_of((0.0, 0.0)));
        if at.1 >= self.view.height_pt {
            let (room, sample) = self.samples.iter().find(|(room, _)| room.holds(at))?;
            return match sample {
                LegendEntry::NoValueKind(cover) => Some(cover.colour(at, origin, theme)),
                LegendEntry::Ramp => {
                    self.ramp.map(|ramp| ramp.colour_at((at.0 - room.left) / (room.right - room.left), theme))
                }
            };
        }
        let map = self.request.map;
        let (x, y) = self.view.plan_of(at);
        let (west, south) = map.corner();
        let (column, row) = ((x - west) / map.spacing_m(), (y - south) / map.spacing_m());
        let within = |index: f64, count: u32| (0.0..f64::from(count)).contains(&index).then_some(index as u32);
        let (column, row) = (within(column, map.columns())?, within(row, map.rows())?);
        Some(match (map.value(column, row, self.request.figure), self.ramp) {
            (Some(value), Some(ramp)) if map.ground(column, row) == PlaceStatus::Looked => ramp.colour(value, theme),
            _ => NoValueKind::of(map.ground(column, row)).colour(at, origin, theme),
        })
    }

    /// What is found on the map, in words and colours.
    fn legend(&mut self) {
        let (request, top, right) = (self.request, self.view.height_pt, self.view.width_pt);
        let (covers, looked) = self.covers();
        let (line_y, first_y) = (top + MARGIN_PT + 4.0, top + MARGIN_PT + 34.0);
        let bottom = first_y + LINE_PT * (covers.len().max(2) as f64) + MARGIN_PT;
        let bar_left = MARGIN_PT + 20.0;
        let bar = Room {
            left: bar_left,
            top: first_y + 10.0,
            right: bar_left + RAMP_PT.0,
            bottom: first_y + 10.0 + RAMP_PT.1,
        };
        let mut samples: Vec<(Room, LegendEntry)> = self.ramp.iter().map(|_| (bar, LegendEntry::Ramp)).collect();
        let mut texts = Vec::new();
        for (index, cover) in covers.into_iter().enumerate() {
            let (left, y) = (bar.right + 50.0, first_y + LINE_PT * index as f64);
            let (half, room_right) = (0.5 * SAMPLE_PT.1, left + SAMPLE_PT.0);
            samples.push((
                Room { left, top: y - half, right: room_right, bottom: y + half },
                LegendEntry::NoValueKind(cover),
            ));
            texts.push(Text::caption(cover.words(), (room_right + 8.0, y), Align::Start, Role::Ink));
        }
        let mut canvas = Canvas::new(right, bottom);
        canvas.drawing.marks = std::mem::take(&mut self.drawing.marks);
        // What the plan draws beyond its edge is covered; the samples are left open.
        let strip = Room { left: -BEYOND_PT, top, right: right + BEYOND_PT, bottom: bottom + BEYOND_PT };
        let rings = std::iter::once(strip.corners()).chain(samples.iter().map(|(room, _)| room.corners())).collect();
        let (fill, pen) = (Some(Role::Panel.full()), Some(Role::Soft.pen(0.8)));
        canvas.drawing.marks.push(Mark::Area { rings, fill, pen });
        let mut title =
            Text::caption(request.survey.model.site.name.clone(), (MARGIN_PT, line_y), Align::Start, Role::Ink);
        (title.size_pt, title.weight) = (TITLE_PT, Weight::Semibold);
        let spacing = request.units.length(request.map.spacing_m(), 2);
        let note = format!("{looked} standpoints, one every {spacing}");
        texts.extend([title, Text::caption(note, (right - MARGIN_PT, line_y), Align::End, Role::Soft)]);
        let said = self.ramp.map_or_else(
            || format!("{}: no standpoint has a value", request.figure.title()),
            |ramp| ramp.title(request.units),
        );
        let mut said = Text::caption(said, (MARGIN_PT, first_y), Align::Start, Role::Ink);
        said.weight = Weight::Semibold;
        texts.push(said);
        for tick in self.ramp.iter().flat_map(|ramp| ramp.ticks(request.units, TICKS)) {
            let x = bar.left + tick.share * RAMP_PT.0;
            canvas.line(&[(x, bar.bottom), (x, bar.bottom + 4.0)], Role::Ink.pen(1.0));
            texts.push(Text::caption(tick.text, (x, bar.bottom + 12.0), Align::Middle, Role::Ink));
        }
        for text in texts {
            canvas.text(text);
        }
        self.samples = samples;
        self.drawing = canvas.finish(self.words());
        self.drawing.plan = Some(self.view);
    }

    /// Which covers are found on the map, and how many places one can stand on.
    fn covers(&self) -> (Vec<NoValueKind>, u64) {
        let map = self.request.map;
        let mut found = [false; NoValueKind::ALL.len()];
        let mut looked = 0;
        for (row, column) in (0..map.rows()).flat_map(|row| (0..map.columns()).map(move |column| (row, column))) {
            let ground = map.ground(column, row);
            let is_looked = ground == PlaceStatus::Looked;
            looked += u64::from(is_looked);
            if !is_looked || map.value(column, row, self.request.figure).is_none() {
                found[NoValueKind::of(ground) as usize] = true;
            }
        }
        (NoValueKind::ALL.into_iter().filter(|cover| found[*cover as usize]).collect(), looked)
    }

    fn words(&self) -> String {
        let figure = self.request.figure.title();
        match &self.ramp {
            Some(ramp) => {
                let (low, high) = ramp.ends();
                let written = |value| written(self.request.figure, value, self.request.units);
                format!(
                    "Map of {}: {figure}, from {} to {}.",
                    self.request.survey.model.site.name,
                    written(low),
                    written(high)
                )
            }
            None => format!("Map of {}: no standpoint has a value for {figure}.", self.request.survey.model.site.name),
        }
    }
}
