//! How is the file of a new site written, so that a person likes to read it and knows what to correct?

use crate::files::ron_options;
use crate::site::PlanPoint;

/// The width that entries are wrapped at.
const WIDTH: usize = 120;
/// How far entries are moved in.
const INDENT: usize = 8;

/// A text that is being written, and where its subject's front looks.
pub(super) struct Draft {
    out: String,
    front_deg: f64,
}

/// How a block is turned, in degrees clockwise from the bearing of the subject's front.
#[derive(Clone, Copy, Debug, Default)]
pub(super) enum Turn {
    /// It is round, or may stand any way.
    #[default]
    Any,
    /// Its y axis lies this way or the opposite one, which is the same.
    Along(f64),
    /// Its y axis points this way.
    Toward(f64),
}

/// A block as it will be written; what is not set is left out.
#[derive(Clone, Debug, Default)]
pub(super) struct Drawn {
    pub(super) name: String,
    pub(super) subject: bool,
    /// To the right and to the front, seen from in front.
    pub(super) at: PlanPoint,
    /// How it is turned.
    pub(super) turn: Turn,
    pub(super) lift_m: f64,
    pub(super) finish: &'static str,
    pub(super) shape: String,
}

impl Draft {
    /// An empty text.
    pub(super) const fn new(front_deg: f64) -> Self {
        Self { out: String::new(), front_deg }
    }

    /// The whole text.
    pub(super) fn finished(self) -> String {
        self.out
    }

    /// A line as it is.
    pub(super) fn line(&mut self, indent: usize, text: &str) {
        self.out.push_str(&" ".repeat(indent));
        self.out.push_str(text);
        self.out.push('\n');
    }

    /// A comment among the entries of a list, wrapped between words.
    pub(super) fn comment(&mut self, text: &str) {
        let mut line = String::from("//");
        for word in text.split(' ') {
            if INDENT + line.chars().count() + 1 + word.chars().count() > WIDTH {
                self.line(INDENT, &line);
                line = String::from("//");
            }
            line.push(' ');
            line.push_str(word);
        }
        self.line(INDENT, &line);
    }

    /// A block.
    pub(super) fn block(&mut self, block: Drawn) {
        let mut fields = vec![format!("name: {}", quoted(&block.name))];
        if block.subject {
            fields.push("subject: true".into());
        }
        fields.push(format!("at: {}", self.place(block.at)));
        let heading_deg = match block.turn {
            Turn::Any => 0.0,
            Turn::Along(turn_deg) => (self.front_deg + turn_deg).rem_euclid(180.0),
            Turn::Toward(turn_deg) => (self.front_deg + turn_deg).rem_euclid(360.0),
        };
        if heading_deg != 0.0 {
            fields.push(format!("heading_deg: {}", number(heading_deg)));
        }
        if block.lift_m > 0.0 {
            fields.push(format!("lift_m: {}", number(block.lift_m)));
        }
        if !block.finish.is_empty() {
            fields.push(format!("finish: {}", block.finish));
        }
        fields.push(format!("shape: {}", block.shape));
        self.entry(&fields);
    }

    /// An entry of a list: its fields on as few lines as hold them.
    pub(super) fn entry(&mut self, fields: &[String]) {
        let mut line = String::from("(");
        for (index, field) in fields.iter().enumerate() {
            let end = if index + 1 == fields.len() { ")," } else { "," };
            if index > 0 {
                if INDENT + line.chars().count() + 1 + field.chars().count() + end.len() > WIDTH {
                    self.line(INDENT, &line);
                    line = String::from(" ");
                } else {
                    line.push(' ');
                }
            }
            line.push_str(field);
            line.push_str(end);
        }
        // A single field may be longer than a line: it goes on under itself after a comma.
        while INDENT + line.chars().count() > WIDTH {
            let Some(comma) = line.get(..WIDTH - INDENT).and_then(|start| start.rfind(", ")) else { break };
            self.line(INDENT, &line[..=comma]);
            line = format!("  {}", &line[comma + 2..]);
        }
        self.line(INDENT, &line);
    }

    /// A plan position of the world, from one to the right and to the front: exact where the front looks along an axis, else to
    /// the millimetre.
    pub(super) fn place(&self, (right_m, ahead_m): PlanPoint) -> String {
        let (sine, cosine) = self.front_deg.to_radians().sin_cos();
        let rounded = |metres: f64| if self.front_deg % 90.0 == 0.0 { metres } else { to_millimetre(metres) };
        let (east_m, north_m) = (ahead_m * sine - right_m * cosine, ahead_m * cosine + right_m * sine);
        format!("({}, {})", number(rounded(east_m)), number(rounded(north_m)))
    }
}

/// A text as a file writes it.
pub(super) fn quoted(text: &str) -> String {
    ron_options().to_string(text).expect("a text can always be written")
}

/// A number without the last digits, which are arithmetic's own: to a billionth, zero without a sign.
pub(super) fn number(value: f64) -> String {
    format!("{}", (value * 1e9).round() / 1e9 + 0.0)
}

/// Rounded to what a person would write.
pub(super) fn to_millimetre(metres: f64) -> f64 {
    (metres * 1e3).round() / 1e3
}

/// A length that is a share of another: to the centimetre, and to a tenth of a millimetre where it is short.
pub(super) fn sized(metres: f64) -> f64 {
    let steps = if metres.abs() < 1.0 { 1e4 } else { 1e2 };
    (metres * steps).round() / steps
}
