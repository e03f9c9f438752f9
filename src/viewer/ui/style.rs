//! How does everything in the window look? Type, colours, cards and the small parts that every panel draws.

use std::sync::Arc;

use bevy_egui::egui::{
    self, Color32, CornerRadius, FontFamily, FontId, Galley, Pos2, Rect, Response, Sense, Stroke, StrokeKind,
    TextStyle, Ui, Vec2, WidgetInfo, WidgetType,
};

use crate::theme::{Colour, Palette, Theme};

use crate::viewer::render::narrow::screen;

/// The corner radius of sheets and of what opens over them.
const SHEET_RADIUS: u8 = 6;
/// The type of everything that can be pressed: equal buttons have equal type.
const BUTTON_PX: f32 = 13.0;
/// What stands about the word of a menu's button: its ends and the mark.
const MENU_ROOM: f32 = 30.0;
/// The weight of headings and values.
const SEMIBOLD: &str = "semibold";

/// What everything is drawn by: the colours, the size of the type, the space between things.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct WindowStyle {
    pub(super) theme: Theme,
    /// Points to a unit of the drawing: 1 in a small window, more in a large one.
    pub(super) unit: f32,
    /// Nothing moves by itself.
    pub(super) still: bool,
}

/// The egui colour of a token.
pub(super) const fn colour(colour: Colour) -> Color32 {
    Color32::from_rgb(colour.0, colour.1, colour.2)
}

/// A colour thinned to a share of itself, for a target on which light is mixed linearly.
pub(super) fn thinned(colour: Color32, share: f32) -> Color32 {
    Color32::from(egui::Rgba::from(colour) * share)
}

impl WindowStyle {
    /// The look for a window of this size, with type so many times as large as usual.
    pub(super) fn for_window(theme: Theme, size: Vec2, text_size: f32, still: bool) -> Self {
        // Type grows with the window, in steps, so that dragging a window's corner does not draw new type each frame.
        let room = (size.x / 1440.0).min(size.y / 900.0);
        let unit = ((room.clamp(1.0, 1.5) * 20.0).floor() / 20.0).max(1.0);
        Self { theme, unit: unit * text_size.max(1.0), still }
    }

    pub(super) fn palette(&self) -> &'static Palette {
        self.theme.palette()
    }

    /// A length of the drawing in points.
    pub(super) fn px(&self, units: f32) -> f32 {
        units * self.unit
    }

    pub(super) fn ink(&self) -> Color32 {
        colour(self.palette().ink)
    }

    pub(super) fn soft(&self) -> Color32 {
        colour(self.palette().soft)
    }

    pub(super) fn line(&self) -> Color32 {
        colour(self.palette().line)
    }

    pub(super) fn well(&self) -> Color32 {
        colour(self.palette().well)
    }

    pub(super) fn panel(&self) -> Color32 {
        colour(self.palette().panel)
    }

    pub(super) fn plumb(&self) -> Color32 {
        colour(self.palette().plumb)
    }

    pub(super) fn side(&self) -> Color32 {
        colour(self.palette().side)
    }

    pub(super) fn open(&self) -> Color32 {
        colour(self.palette().open)
    }

    pub(super) fn ask(&self) -> Color32 {
        colour(self.palette().ask)
    }

    /// The outline of what can be pressed.
    pub(super) fn control(&self) -> Stroke {
        Stroke::new(1.0, colour(self.palette().control))
    }

    pub(super) fn hairline(&self) -> Stroke {
        Stroke::new(1.0, self.line())
    }

    /// 13 px: what is read.
    pub(super) fn body(&self) -> FontId {
        FontId::proportional(self.px(13.0))
    }

    /// 12 px: captions and notes.
    pub(super) fn caption(&self) -> FontId {
        FontId::proportional(self.px(12.0))
    }

    /// 11 px: figures on scales. Nothing is smaller.
    pub(super) fn figure(&self) -> FontId {
        FontId::proportional(self.px(11.0))
    }

    /// Semibold of a size.
    pub(super) fn strong(&self, size: f32) -> FontId {
        FontId::new(self.px(size), FontFamily::Name(SEMIBOLD.into()))
    }

    /// Rich text in the caption's size and colour.
    pub(super) fn note(&self, text: impl Into<String>) -> egui::RichText {
        egui::RichText::new(kept_whole(&text.into())).font(self.caption()).color(self.soft())
    }

    /// Rich text in the body's size.
    pub(super) fn plain(&self, text: impl Into<String>) -> egui::RichText {
        egui::RichText::new(text).font(self.body()).color(self.ink())
    }

    /// Rich text of a card's heading.
    pub(super) fn title(&self, text: impl Into<String>) -> egui::RichText {
        egui::RichText::new(text).font(self.strong(15.0)).color(self.ink())
    }

    /// Text over as many lines as it takes.
    pub(super) fn wrapped(
        &self,
        painter: &egui::Painter,
        text: &str,
        font: FontId,
        colour: Color32,
        width: f32,
    ) -> Arc<Galley> {
        painter.layout(kept_whole(text), font, colour, width)
    }

    /// One line of text. Where it is longer than its place its middle is left out: names differ at their ends.
    pub(super) fn fitted(&self, ui: &Ui, text: &str, font: FontId, colour: Color32, width: f32) -> Arc<Galley> {
        self.fitted_by(ui.painter(), text, font, colour, width)
    }

    /// The same, painted elsewhere.
    pub(super) fn fitted_by(
        &self,
        painter: &egui::Painter,
        text: &str,
        font: FontId,
        colour: Color32,
        width: f32,
    ) -> Arc<Galley> {
        let line = |text: String| {
            let job = egui::text::LayoutJob::simple_singleline(text, font.clone(), colour);
            painter.layout_job(job)
        };
        let whole = line(text.to_owned());
        if whole.size().x <= width {
            return whole;
        }
        // The most letters that fit.
        let (mut fits, mut too_many) = (0, text.chars().count());
        while too_many - fits > 1 {
            let middle = usize::midpoint(fits, too_many);
            if line(middle_left_out(text, middle)).size().x <= width { fits = middle } else { too_many = middle }
        }
        line(middle_left_out(text, fits))
    }

    /// The style of egui's own widgets.
    fn style(&self) -> egui::Style {
        let text_styles = [
            (TextStyle::Small, self.caption()),
            (TextStyle::Body, self.body()),
            (TextStyle::Button, self.body()),
            (TextStyle::Monospace, self.body()),
            (TextStyle::Heading, self.strong(15.0)),
        ];
        let mut style = egui::Style { text_styles: text_styles.into(), ..egui::Style::default() };
        style.spacing.item_spacing = Vec2::new(self.px(8.0), self.px(4.0));
        style.spacing.button_padding = Vec2::new(self.px(10.0), self.px(4.0));
        style.spacing.interact_size.y = self.px(24.0);
        style.spacing.icon_width = self.px(14.0);
        style.spacing.scroll = egui::style::ScrollStyle::thin();
        style.spacing.menu_margin = egui::Margin::same(8);
        style.animation_time = if self.still { 0.0 } else { 0.12 };
        style.visuals = self.visuals();
        // Development builds would write over what lies between two pixels.
        #[cfg(debug_assertions)]
        {
            style.debug.show_unaligned = false;
        }
        style
    }

    fn visuals(&self) -> egui::Visuals {
        let mut visuals = match self.theme {
            Theme::Paper => egui::Visuals::light(),
            Theme::Dusk => egui::Visuals::dark(),
        };
        visuals.override_text_color = Some(self.ink());
        visuals.weak_text_color = Some(self.soft());
        visuals.hyperlink_color = self.ink();
        visuals.panel_fill = self.panel();
        visuals.window_fill = self.panel();
        visuals.window_stroke = self.hairline();
        visuals.window_corner_radius = CornerRadius::same(SHEET_RADIUS);
        visuals.menu_corner_radius = CornerRadius::same(SHEET_RADIUS);
        visuals.window_shadow =
            egui::epaint::Shadow { offset: [0, 3], blur: 14, spread: 0, color: Color32::from_black_alpha(40) };
        visuals.popup_shadow = visuals.window_shadow;
        visuals.extreme_bg_color = self.well();
        visuals.faint_bg_color = self.well();
        visuals.code_bg_color = self.well();
        visuals.selection.bg_fill = self.line();
        visuals.selection.stroke = Stroke::new(1.0, self.ink());
        let radius = CornerRadius::same(5);
        let widgets = &mut visuals.widgets;
        for (widget, fill, edge) in [
            (&mut widgets.noninteractive, self.panel(), self.line()),
            (&mut widgets.inactive, self.panel(), self.line()),
            (&mut widgets.hovered, self.well(), self.soft()),
            (&mut widgets.active, self.line(), self.ink()),
            (&mut widgets.open, self.well(), self.soft()),
        ] {
            widget.bg_fill = fill;
            widget.weak_bg_fill = fill;
            widget.bg_stroke = Stroke::new(1.0, edge);
            widget.fg_stroke = Stroke::new(1.0, self.ink());
            widget.corner_radius = radius;
            widget.expansion = 0.0;
        }
        // A still cursor lets the window sleep.
        visuals.text_cursor.blink = false;
        visuals.text_cursor.stroke = Stroke::new(1.5, self.ink());
        visuals
    }
}

/// Gives the window its type. To be done once.
pub(super) fn set_fonts(context: &egui::Context) {
    let mut fonts = egui::FontDefinitions::empty();
    for (name, bytes) in [
        ("regular", include_bytes!("../../../assets/fonts/OpenSans-Regular.ttf").as_slice()),
        (SEMIBOLD, include_bytes!("../../../assets/fonts/OpenSans-Semibold.ttf").as_slice()),
    ] {
        fonts.font_data.insert(name.into(), Arc::new(egui::FontData::from_static(bytes)));
    }
    fonts.families.insert(FontFamily::Proportional, vec!["regular".into()]);
    fonts.families.insert(FontFamily::Monospace, vec!["regular".into()]);
    fonts.families.insert(FontFamily::Name(SEMIBOLD.into()), vec![SEMIBOLD.into()]);
    context.set_fonts(fonts);
}

/// Gives the window its colours and sizes. To be done when they change.
pub(super) fn set_egui_style(context: &egui::Context, style: &WindowStyle) {
    let style = Arc::new(style.style());
    context.set_theme(egui::Theme::Light);
    context.set_style_of(egui::Theme::Light, Arc::clone(&style));
    context.set_style_of(egui::Theme::Dark, style);
}

/// The sheet that lies on the table, with its soft shadow.
pub(super) fn card(ui: &Ui, style: &WindowStyle, rect: Rect) {
    let radius = CornerRadius::same(SHEET_RADIUS);
    let share = if style.theme == Theme::Paper { 34 } else { 90 };
    let shadow = egui::epaint::Shadow { offset: [0, 1], blur: 8, spread: 0, color: Color32::from_black_alpha(share) };
    ui.painter().add(shadow.as_shape(rect, radius));
    ui.painter().rect_filled(rect, radius, style.panel());
}

/// A child that lays its parts out inside a rectangle, and nowhere else.
pub(super) fn within<R>(ui: &mut Ui, salt: &str, rect: Rect, contents: impl FnOnce(&mut Ui) -> R) -> R {
    // A rectangle with nothing in it is still a place.
    let rect = Rect::from_min_size(rect.min, rect.size().max(Vec2::ZERO));
    let builder = egui::UiBuilder::new().id_salt(salt).max_rect(rect);
    let mut child = ui.new_child(builder);
    child.shrink_clip_rect(rect);
    contents(&mut child)
}

/// A plain button that is a word on the table: no frame until it is pointed at or has the focus.
pub(super) fn text_button(ui: &mut Ui, style: &WindowStyle, word: &str, name: &str) -> Response {
    let galley = ui.painter().layout_no_wrap(word.to_owned(), style.caption(), style.soft());
    let size = galley.size() + Vec2::new(style.px(8.0), style.px(6.0));
    let (rect, response) = ui.allocate_exact_size(size, Sense::click());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Button, true, name));
    if response.hovered() || response.has_focus() {
        ui.painter().rect(rect, 4.0, style.panel(), style.hairline(), StrokeKind::Inside);
    }
    focus_ring(ui, style, &response, rect);
    let ink = if response.hovered() || response.has_focus() { style.ink() } else { style.soft() };
    ui.painter().galley_with_override_text_color(rect.center() - 0.5 * galley.size(), galley, ink);
    response.on_hover_cursor(egui::CursorIcon::PointingHand)
}

/// Words in a caption's type that open a list, over as many lines as they take, with the mark behind them.
pub(super) fn word_with_mark(ui: &mut Ui, style: &WindowStyle, words: &str, name: &str, ink: Color32) -> Response {
    let room = ui.available_width() - style.px(18.0);
    let galley = style.wrapped(ui.painter(), words, style.caption(), ink, room);
    let size = galley.size() + Vec2::new(style.px(18.0), style.px(4.0));
    let (rect, response) = ui.allocate_exact_size(size, Sense::click());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::ComboBox, true, name));
    if response.hovered() || response.has_focus() {
        ui.painter().rect_filled(rect.expand2(Vec2::new(3.0, 0.0)), 4.0, style.well());
    }
    focus_ring(ui, style, &response, rect);
    let last = galley.rows.last().map_or(0.0, |row| row.rect().right());
    let middle = galley.rows.last().map_or(0.5 * galley.size().y, |row| row.rect().center().y);
    let at = rect.min + Vec2::new(0.0, style.px(2.0));
    ui.painter().galley(at, galley, ink);
    mark_down(ui.painter(), style, at + Vec2::new(last + style.px(11.0), middle));
    response.on_hover_cursor(egui::CursorIcon::PointingHand)
}

/// A button with a frame, as wide as asked.
pub(super) fn button(ui: &mut Ui, style: &WindowStyle, word: &str, width: f32) -> Response {
    named_button(ui, style, word, word, width, ButtonKind::Verb)
}

/// The one button that does what its place is about, as wide as asked.
pub(super) fn main_button(ui: &mut Ui, style: &WindowStyle, word: &str, name: &str, width: f32) -> Response {
    named_button(ui, style, word, name, width, ButtonKind::Main)
}

fn named_button(ui: &mut Ui, style: &WindowStyle, word: &str, name: &str, width: f32, kind: ButtonKind) -> Response {
    let size = Vec2::new(width.max(1.0), style.px(26.0));
    let (rect, response) = ui.allocate_exact_size(size, Sense::click());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Button, ui.is_enabled(), name));
    draw_button(ui, style, &response, rect, word, kind);
    response.on_hover_cursor(egui::CursorIcon::PointingHand)
}

/// How wide a button is that shows its word whole.
pub(super) fn button_width(ui: &Ui, style: &WindowStyle, word: &str) -> f32 {
    ui.painter().layout_no_wrap(word.to_owned(), style.strong(BUTTON_PX), style.ink()).size().x + style.px(24.0)
}

/// The widths of buttons in a row: each as wide as its word wants, the rest of the room shared.
pub(super) fn row_widths<const N: usize>(ui: &Ui, style: &WindowStyle, words: [&str; N], room: f32) -> [f32; N] {
    let wanted = words.map(|word| button_width(ui, style, word) - style.px(12.0));
    let sum: f32 = wanted.iter().sum();
    if sum > room {
        wanted.map(|width| width * room / sum)
    } else {
        wanted.map(|width| width + (room - sum) / count(N))
    }
}

/// What a button is to its place.
#[derive(Clone, Copy, PartialEq)]
enum ButtonKind {
    /// It does something.
    Verb,
    /// It does the thing.
    Main,
    /// It chooses one of several, and is or is not the chosen one.
    Choice(bool),
}

/// A word that opens a list, outlined, with the mark behind it; as wide as asked, or as its word wants.
pub(super) fn menu_button(ui: &mut Ui, style: &WindowStyle, word: &str, name: &str, width: Option<f32>) -> Response {
    let strong = style.strong(BUTTON_PX);
    let width = width.unwrap_or_else(|| menu_width(ui, style, word));
    let size = Vec2::new(width.max(1.0), style.px(26.0));
    let (rect, response) = ui.allocate_exact_size(size, Sense::click());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::ComboBox, ui.is_enabled(), name));
    if response.hovered() || response.has_focus() {
        ui.painter().rect_filled(rect, 6.0, style.well());
    }
    ui.painter().rect_stroke(rect, 6.0, style.control(), StrokeKind::Inside);
    focus_ring(ui, style, &response, rect);
    let galley = style.fitted(ui, word, strong, style.ink(), rect.width() - style.px(MENU_ROOM));
    let at = Pos2::new(rect.left() + style.px(9.0), rect.center().y - 0.5 * galley.size().y);
    ui.painter().galley(at, galley, style.ink());
    mark_down(ui.painter(), style, Pos2::new(rect.right() - style.px(11.0), rect.center().y));
    response.on_hover_cursor(egui::CursorIcon::PointingHand)
}

/// How wide a word that opens a list is when it is shown whole.
pub(super) fn menu_width(ui: &Ui, style: &WindowStyle, word: &str) -> f32 {
    ui.painter().layout_no_wrap(word.to_owned(), style.strong(BUTTON_PX), style.ink()).size().x + style.px(MENU_ROOM)
}

/// The filled triangle that points down: the only mark there is, here behind a word that opens a list.
pub(super) fn mark_down(painter: &egui::Painter, style: &WindowStyle, centre: Pos2) {
    let half = style.px(4.5);
    let corners = [Vec2::new(-half, -0.6 * half), Vec2::new(half, -0.6 * half), Vec2::new(0.0, 0.9 * half)];
    painter.add(egui::Shape::convex_polygon(corners.map(|to| centre + to).to_vec(), style.ink(), Stroke::NONE));
}

/// A button that stays pressed while it is chosen.
pub(super) fn choice(ui: &mut Ui, style: &WindowStyle, word: &str, name: &str, chosen: bool, width: f32) -> Response {
    let size = Vec2::new(width.max(1.0), style.px(24.0));
    let (rect, response) = ui.allocate_exact_size(size, Sense::click());
    response.widget_info(|| WidgetInfo::selected(WidgetType::SelectableLabel, ui.is_enabled(), chosen, name));
    draw_button(ui, style, &response, rect, word, ButtonKind::Choice(chosen));
    response
}

fn draw_button(ui: &Ui, style: &WindowStyle, response: &Response, rect: Rect, word: &str, kind: ButtonKind) {
    let enabled = ui.is_enabled();
    let pressed = response.is_pointer_button_down_on() && enabled;
    let hovered = response.hovered() && enabled;
    let (fill, edge, ink) = match kind {
        _ if !enabled => (style.panel(), style.line(), style.soft()),
        ButtonKind::Main if pressed => (style.soft(), style.soft(), style.panel()),
        ButtonKind::Main => (style.ink(), style.ink(), style.panel()),
        _ if pressed => (style.line(), style.ink(), style.ink()),
        ButtonKind::Choice(true) => (style.well(), style.ink(), style.ink()),
        _ if hovered => (style.well(), style.ink(), style.ink()),
        ButtonKind::Verb | ButtonKind::Choice(false) => (style.panel(), style.ink(), style.ink()),
    };
    let chosen = kind == ButtonKind::Choice(true);
    let width = if chosen { 1.6 } else { 1.0 };
    ui.painter().rect(rect, 6.0, fill, Stroke::new(width, edge), StrokeKind::Inside);
    if chosen {
        mark_down(ui.painter(), style, Pos2::new(rect.center().x, rect.top() + style.px(1.5)));
    }
    if kind == ButtonKind::Main && hovered {
        ui.painter().rect_stroke(rect.expand(2.0), 8.0, style.control(), StrokeKind::Inside);
    }
    focus_ring(ui, style, response, rect);
    let room = rect.width() - style.px(6.0);
    let galley = style.fitted(ui, word, style.strong(BUTTON_PX), ink, room);
    let down = if chosen { style.px(1.0) } else { 0.0 };
    ui.painter().galley(rect.center() - 0.5 * galley.size() + Vec2::new(0.0, down), galley, ink);
}

/// The ring around what has the keyboard.
pub(super) fn focus_ring(ui: &Ui, style: &WindowStyle, response: &Response, rect: Rect) {
    if response.has_focus() {
        ui.painter().rect_stroke(rect.expand(1.0), 5.0, Stroke::new(2.0, style.ink()), StrokeKind::Outside);
    }
}

/// The filled triangle that points down at the value of a scale from over its top edge, `at`.
pub(super) fn index_mark(painter: &egui::Painter, style: &WindowStyle, at: Pos2) {
    let half = style.px(5.0);
    let corners = [Vec2::new(-half, -1.5 * half), Vec2::new(half, -1.5 * half), Vec2::new(0.0, 0.3 * half)];
    painter.vline(at.x, at.y - half..=at.y + style.px(7.0), Stroke::new(style.px(1.6), style.ink()));
    painter.add(egui::Shape::convex_polygon(corners.map(|to| at + to).to_vec(), style.ink(), Stroke::NONE));
}

/// A bracket under a scale, from one place to another.
pub(super) fn bracket(painter: &egui::Painter, style: &WindowStyle, [from, to]: [f32; 2], y: f32) {
    let stroke = Stroke::new(style.px(1.8), style.ink());
    painter.hline(from..=to, y, stroke);
    for end in [from, to] {
        painter.vline(end, y - style.px(3.0)..=y + style.px(3.0), Stroke::new(style.px(1.4), style.ink()));
    }
}

/// A text with only so many of its letters, from both ends.
fn middle_left_out(text: &str, letters: usize) -> String {
    let (start, end) = (letters.div_ceil(2), letters / 2);
    let all = text.chars().count();
    let first: String = text.chars().take(start).collect();
    let last: String = text.chars().skip(all - end.min(all)).collect();
    format!("{}…{}", first.trim_end(), last.trim_start())
}

/// The text with its quantities whole: no line ends between a number and its unit.
fn kept_whole(text: &str) -> String {
    const UNITS: [&str; 13] = ["m", "ft", "mm", "inch", "km", "px", "px/m", "px/ft", "MP", "MB", "s", "min", "%"];
    let mut whole = String::with_capacity(text.len());
    let mut words = text.split(' ').peekable();
    while let Some(word) = words.next() {
        whole.push_str(word);
        let Some(next) = words.peek() else { break };
        let unit = next.lines().next().unwrap_or_default().trim_end_matches([',', '.', ';', ':', ')']);
        let bound = word.ends_with(|c: char| c.is_ascii_digit()) && UNITS.contains(&unit);
        whole.push(if bound { '\u{a0}' } else { ' ' });
    }
    whole
}

/// A count as a length on the screen.
pub(super) fn count(number: usize) -> f32 {
    screen(number as f64)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_name_keeps_both_its_ends() {
        assert_eq!(middle_left_out("pumping station, north gate", 9), "pumpi…gate");
        assert_eq!(middle_left_out("north gate", 1), "n…");
        assert_eq!(middle_left_out("north gate", 0), "…");
        assert_eq!(middle_left_out("Æther Öl", 4), "Æt…Öl");
    }

    #[test]
    fn type_grows_with_the_window_and_the_settings_and_is_never_below_11_px() {
        for (size, text_size, unit) in [
            (Vec2::new(1024.0, 640.0), 1.0, 1.0),
            (Vec2::new(1440.0, 900.0), 1.0, 1.0),
            (Vec2::new(1920.0, 1080.0), 1.0, 1.2),
            (Vec2::new(1440.0, 900.0), 1.5, 1.5),
            (Vec2::new(640.0, 480.0), 0.5, 1.0),
        ] {
            let style = WindowStyle::for_window(Theme::Paper, size, text_size, false);
            assert!((style.unit - unit).abs() < 1e-6, "{size:?}: {}", style.unit);
            assert!(style.figure().size >= 11.0);
        }
    }

    #[test]
    fn no_line_ends_between_a_number_and_its_unit() {
        assert_eq!(kept_whole("1.7 m nearer, 0.5 m up (12 mm)."), "1.7\u{a0}m nearer, 0.5\u{a0}m up (12\u{a0}mm).");
        assert_eq!(kept_whole("93 % of it, 5 frames"), "93\u{a0}% of it, 5 frames");
        assert_eq!(kept_whole("the 135 mm; 5 m\n3 more\nm"), "the 135\u{a0}mm; 5\u{a0}m\n3 more\nm");
    }
}
