//! Formulas in device kinds: `track * (1 - at_least)`, over named values, evaluated to plain numbers in base units.
//!
//! `+ - * / ^`, parentheses, `exp`, `ln`, `sqrt`, `abs`, `min`, `max`. No conditions and no loops: what depends on the
//! set-up is a table by the sensed value, or a pair `then` and `otherwise`.

use std::borrow::Cow;
use std::ops::Range;

use quantity::Unit;
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use toml::de::DeValue;

use super::decode::{Decode, Node, record, wrong_type};
use super::mistake::Slips;
use super::value::{Number, Pair, Text};

/// A value as it is written in a device or kind.
#[derive(Clone, Debug)]
pub(crate) struct Formula {
    /// What is written.
    pub(crate) form: Form,
    /// Where.
    pub(crate) at: Range<usize>,
}

/// The ways to write one.
#[derive(Clone, Debug)]
pub(crate) enum Form {
    /// A plain number in the base unit.
    Number(f64),
    /// A quantity or a formula: which of them depends on the names in it.
    Text(String),
    /// Rows of sensed value and value.
    Rows(Vec<Pair<Number, Formula>>),
    /// One of two values.
    When(Box<WhenKeys>),
}

record! {
    /// One of two values, as the set-up says.
    WhenKeys {
        /// The condition: `key on`, `sensed at least 2.5`, `commanded`.
        when: Text,
        /// The value where it holds.
        then: Formula,
        /// The value where it does not.
        otherwise: Formula,
    }
}

impl Decode for Formula {
    fn decode(node: &Node, slips: &mut Slips) -> Option<Self> {
        let form = match node.get_ref() {
            DeValue::String(text) => Form::Text(text.to_string()),
            DeValue::Array(_) => Form::Rows(Vec::decode(node, slips)?),
            DeValue::Table(_) => Form::When(Box::new(WhenKeys::decode(node, slips)?)),
            DeValue::Integer(_) | DeValue::Float(_) => Form::Number(Number::decode(node, slips)?.value),
            _ => {
                wrong_type(node, "a value, a formula, a list of rows or when/then/otherwise", slips);
                return None;
            }
        };
        Some(Self { form, at: node.span() })
    }
}

impl JsonSchema for Formula {
    fn schema_name() -> Cow<'static, str> {
        "Formula".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let rows = generator.subschema_for::<Pair<Number, Formula>>();
        let when = generator.subschema_for::<WhenKeys>();
        json_schema!({
            "description": "A quantity with tolerance, a formula, rows by the sensed value, or one of two values.",
            "anyOf": [
                { "type": "number" },
                { "type": "string", "examples": ["4.7k ± 5 %", "track * (1 - at_least)"] },
                { "type": "array", "items": rows },
                when
            ]
        })
    }
}

/// A parsed formula.
#[derive(Clone, Debug)]
pub(crate) enum Expression {
    /// A number.
    Number(f64),
    /// A name.
    Name(String),
    /// One operand.
    Unary(fn(f64) -> f64, Box<Expression>),
    /// Two.
    Binary(fn(f64, f64) -> f64, Box<Expression>, Box<Expression>),
}

/// Why a formula cannot be read: which bytes of it, and why.
pub(crate) type FormulaError = (Range<usize>, String);

/// Deeper nesting than any formula needs; keeps the stack bounded.
const DEEPEST: usize = 64;

/// More bytes than any formula needs; keeps a long sum, which is nested to the left, from filling the stack.
const LONGEST: usize = 500;

impl Expression {
    /// Reads a formula.
    pub(crate) fn parse(text: &str) -> Result<Self, FormulaError> {
        if text.len() > LONGEST {
            return Err((
                0..text.len(),
                format!("a formula has at most {LONGEST} characters: name its pieces in `local`"),
            ));
        }
        let mut parser = Parser { text, pos: 0, depth: 0 };
        let expression = parser.sum()?;
        parser.skip_space();
        if parser.pos < text.len() {
            return Err(parser.error("an operator or the end of the formula is expected"));
        }
        Ok(expression)
    }

    /// Its value where each name has the value that `of` gives.
    pub(crate) fn value(&self, of: &dyn Fn(&str) -> f64) -> f64 {
        match self {
            Self::Number(value) => *value,
            Self::Name(name) => of(name),
            Self::Unary(function, operand) => function(operand.value(of)),
            Self::Binary(function, left, right) => function(left.value(of), right.value(of)),
        }
    }

    /// Every name in it.
    pub(crate) fn names(&self, found: &mut Vec<String>) {
        match self {
            Self::Number(_) => {}
            Self::Name(name) => found.push(name.clone()),
            Self::Unary(_, operand) => operand.names(found),
            Self::Binary(_, left, right) => {
                left.names(found);
                right.names(found);
            }
        }
    }
}

struct Parser<'t> {
    text: &'t str,
    pos: usize,
    depth: usize,
}

impl Parser<'_> {
    fn rest(&self) -> &str {
        &self.text[self.pos..]
    }

    fn skip_space(&mut self) {
        self.pos = self.text.len() - self.rest().trim_start().len();
    }

    fn error(&self, message: &str) -> FormulaError {
        let width = self.rest().chars().next().map_or(0, char::len_utf8);
        (self.pos..self.pos + width, message.to_owned())
    }

    /// Takes one of `signs` if it is next.
    fn eat(&mut self, signs: &[char]) -> Option<char> {
        self.skip_space();
        let sign = self.rest().chars().next().filter(|next| signs.contains(next))?;
        self.pos += sign.len_utf8();
        Some(sign)
    }

    fn sum(&mut self) -> Result<Expression, FormulaError> {
        let mut left = self.product()?;
        while let Some(sign) = self.eat(&['+', '-', '−']) {
            let right = self.product()?;
            let function = if sign == '+' {
                |a, b| a + b
            } else {
                |a: f64, b: f64| a - b
            };
            left = Expression::Binary(function, Box::new(left), Box::new(right));
        }
        Ok(left)
    }

    fn product(&mut self) -> Result<Expression, FormulaError> {
        let mut left = self.power()?;
        while let Some(sign) = self.eat(&['*', '/', '·']) {
            let right = self.power()?;
            let function = if sign == '/' {
                |a: f64, b: f64| a / b
            } else {
                |a, b| a * b
            };
            left = Expression::Binary(function, Box::new(left), Box::new(right));
        }
        Ok(left)
    }

    fn power(&mut self) -> Result<Expression, FormulaError> {
        if self.eat(&['-', '−']).is_some() {
            self.deeper()?;
            let operand = self.power()?;
            self.depth -= 1;
            return Ok(Expression::Unary(|a| -a, Box::new(operand)));
        }
        let base = self.operand()?;
        if self.eat(&['^']).is_some() {
            self.deeper()?;
            let exponent = self.power()?;
            self.depth -= 1;
            return Ok(Expression::Binary(f64::powf, Box::new(base), Box::new(exponent)));
        }
        Ok(base)
    }

    fn deeper(&mut self) -> Result<(), FormulaError> {
        self.depth += 1;
        if self.depth > DEEPEST {
            Err(self.error("the formula is nested too deeply"))
        } else {
            Ok(())
        }
    }

    fn operand(&mut self) -> Result<Expression, FormulaError> {
        self.skip_space();
        match self.rest().chars().next() {
            Some('(') => self.group(),
            Some(first) if first.is_ascii_digit() || first == '.' => self.number(),
            Some(first) if first.is_alphabetic() || first == '_' => self.name(),
            _ => Err(self.error("a number, a name or `(` is expected")),
        }
    }

    /// What stands in parentheses.
    fn group(&mut self) -> Result<Expression, FormulaError> {
        if self.eat(&['(']).is_none() {
            return Err(self.error("`(` is expected"));
        }
        self.deeper()?;
        let inner = self.sum()?;
        self.depth -= 1;
        self.close()?;
        Ok(inner)
    }

    fn close(&mut self) -> Result<(), FormulaError> {
        self.eat(&[')'])
            .map(|_| ())
            .ok_or_else(|| self.error("`)` is expected"))
    }

    fn number(&mut self) -> Result<Expression, FormulaError> {
        let rest = self.rest();
        let digits = |from: usize| {
            rest[from..]
                .bytes()
                .take_while(|b| b.is_ascii_digit() || *b == b'.')
                .count()
        };
        let mut len = digits(0);
        if rest[len..].starts_with(['e', 'E']) {
            let sign = usize::from(rest[len + 1..].starts_with(['+', '-']));
            let exponent = rest[len + 1 + sign..].bytes().take_while(u8::is_ascii_digit).count();
            if exponent > 0 {
                len += 1 + sign + exponent;
            }
        }
        let at = self.pos..self.pos + len;
        match rest[..len].parse::<f64>() {
            Ok(value) if value.is_finite() => {
                self.pos = at.end;
                Ok(Expression::Number(value))
            }
            _ => Err((at, "this is no number".to_owned())),
        }
    }

    fn name(&mut self) -> Result<Expression, FormulaError> {
        let rest = self.rest();
        let len = rest
            .find(|c: char| !c.is_alphanumeric() && c != '_')
            .unwrap_or(rest.len());
        let name = rest[..len].to_owned();
        let at = self.pos..self.pos + len;
        self.pos = at.end;
        let unary: Option<fn(f64) -> f64> = match name.as_str() {
            "exp" => Some(f64::exp),
            "ln" => Some(f64::ln),
            "sqrt" => Some(f64::sqrt),
            "abs" => Some(f64::abs),
            _ => None,
        };
        let binary: Option<fn(f64, f64) -> f64> = match name.as_str() {
            "min" => Some(f64::min),
            "max" => Some(f64::max),
            _ => None,
        };
        self.skip_space();
        if let Some(function) = unary {
            return Ok(Expression::Unary(function, Box::new(self.group()?)));
        }
        if let Some(function) = binary {
            if self.eat(&['(']).is_none() {
                return Err(self.error("`(` is expected"));
            }
            self.deeper()?;
            let left = self.sum()?;
            if self.eat(&[',']).is_none() {
                return Err(self.error("`,` and a second value are expected"));
            }
            let right = self.sum()?;
            self.depth -= 1;
            self.close()?;
            return Ok(Expression::Binary(function, Box::new(left), Box::new(right)));
        }
        if self.rest().starts_with('(') {
            return Err((
                at,
                format!("there is no function `{name}`: exp, ln, sqrt, abs, min, max are known"),
            ));
        }
        Ok(Expression::Name(name))
    }
}

/// Rows of sensed value and value: sorted by it, each once.
pub(crate) fn compile_rows(
    rows: &[Pair<Number, Formula>],
    unit: Unit,
    slips: &mut Slips,
    read: &mut dyn FnMut(&Text, &mut Slips) -> Option<Expression>,
) -> Option<Vec<(f64, Expression)>> {
    let mut compiled: Vec<(f64, Expression)> = Vec::new();
    let mut is_whole = !rows.is_empty();
    for row in rows {
        if compiled.last().is_some_and(|(before, _)| *before >= row.first.value) {
            let message = "rows must rise by the sensed value: this one does not lie above the one before";
            slips.push("table-order", &row.at, message);
            is_whole = false;
        }
        let value = match &row.second.form {
            Form::Number(value) => Some(Expression::Number(*value)),
            Form::Text(text) => match quantity::parse(text, unit) {
                Ok(amount) => Some(Expression::Number(amount.value)),
                Err(_) => read(
                    &Text {
                        text: text.clone(),
                        at: row.second.at.clone(),
                    },
                    slips,
                ),
            },
            Form::Rows(_) | Form::When(_) => {
                slips.push("formula", &row.second.at, "a single value is expected in a row");
                None
            }
        };
        match value {
            Some(value) => compiled.push((row.first.value, value)),
            None => is_whole = false,
        }
    }
    if rows.is_empty() {
        return None;
    }
    is_whole.then_some(compiled)
}

/// A formula and the names in it.
pub(crate) fn read_expression(
    text: &str,
    at: &Range<usize>,
    unit: Unit,
    slips: &mut Slips,
) -> Option<(Expression, Vec<String>)> {
    if let Ok(amount) = quantity::parse(text, unit) {
        return Some((Expression::Number(amount.value), Vec::new()));
    }
    match Expression::parse(text) {
        Ok(expression) => {
            let mut names = Vec::new();
            expression.names(&mut names);
            Some((expression, names))
        }
        Err((part, why)) => {
            let place = slips.inside(at, text, part);
            let help = format!("a quantity such as {} or a formula is expected", unit.example());
            slips.push_help("formula", &place, why, help);
            None
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Expression;

    #[track_caller]
    fn check(text: &str, expected: f64) {
        let value = Expression::parse(text)
            .unwrap()
            .value(&|name| if name == "x" { 3.0 } else { f64::NAN });
        assert!((value - expected).abs() < 1e-12, "{text} is {value}, not {expected}");
    }

    #[test]
    fn operators_bind_as_in_arithmetic() {
        check("1 + 2 * x", 7.0);
        check("-x ^ 2", -9.0);
        check("2 ^ 3 ^ 2", 512.0);
        check("8 / 4 / 2", 1.0);
        check("7 - 2 - 1", 4.0);
        check("(1 + 2) * (x - 1)", 6.0);
        check("exp(ln(5)) + max(x, 2) - min(1, x) + 1.5e1", 22.0);
    }

    #[test]
    fn what_cannot_be_read_is_pointed_at() {
        for (text, at) in [
            ("1 +", 3..3),
            ("2 x", 2..3),
            ("sin(x)", 0..3),
            ("(x", 2..2),
            ("1..2", 0..4),
            ("max(x)", 5..6),
        ] {
            assert_eq!(Expression::parse(text).unwrap_err().0, at, "{text}");
        }
        assert!(Expression::parse(&"(".repeat(10_000)).is_err());
        assert!(Expression::parse(&"-".repeat(10_000)).is_err());
    }
}
