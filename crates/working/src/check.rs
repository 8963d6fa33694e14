//! Reads a "with numbers" text and evaluates it by itself, so that a printed line can be checked.
//!
//! Grammar: sums and products of numbers with units, `^`, parentheses, and the functions `max`, `min`, `sum`,
//! `exp`, `ln`, `sqrt`, `abs`. A unit follows its number after one space and is the longest known unit.

use drycoil_units::QuantityKind;

/// Why a text cannot be evaluated.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CheckError(pub String);

impl std::fmt::Display for CheckError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}", self.0)
    }
}

impl std::error::Error for CheckError {}

/// Value of the text in SI (temperatures in degC).
pub fn evaluate(text: &str) -> Result<f64, CheckError> {
    let mut p = Reader { rest: text.trim(), units: unit_table(), depth: 0 };
    let v = p.sum()?;
    if p.rest.is_empty() { Ok(v) } else { Err(CheckError(format!("unexpected `{}`", p.rest))) }
}

fn unit_table() -> Vec<(&'static str, f64, f64)> {
    let mut all = Vec::new();
    for kind in QuantityKind::ALL {
        for unit in kind.units() {
            // A bare temperature unit is a point on the scale; differences are written `delta degF` or `K`.
            if *kind == QuantityKind::TemperatureDifference {
                continue;
            }
            if !all.iter().any(|(s, _, _)| *s == unit.symbol) {
                all.push((unit.symbol, unit.factor, unit.offset));
            }
        }
    }
    all.retain(|(s, _, _)| *s != "K" && *s != "1");
    all.push(("delta degF", 5.0 / 9.0, 0.0));
    all.push(("K", 1.0, 0.0));
    all.sort_by_key(|(s, _, _)| std::cmp::Reverse(s.len()));
    all
}

struct Reader<'a> {
    rest: &'a str,
    units: Vec<(&'static str, f64, f64)>,
    depth: usize,
}

/// Deeper nesting is no formula of a calculation line.
const DEEPEST: usize = 100;

impl Reader<'_> {
    fn skip(&mut self) {
        self.rest = self.rest.trim_start();
    }

    fn eat(&mut self, c: char) -> bool {
        self.skip();
        if let Some(r) = self.rest.strip_prefix(c) {
            self.rest = r;
            true
        } else {
            false
        }
    }

    fn sum(&mut self) -> Result<f64, CheckError> {
        let mut v = self.product()?;
        loop {
            if self.eat('+') {
                v += self.product()?;
            } else if self.eat('-') {
                v -= self.product()?;
            } else {
                return Ok(v);
            }
        }
    }

    fn product(&mut self) -> Result<f64, CheckError> {
        let mut v = self.power()?;
        loop {
            if self.eat('*') {
                v *= self.power()?;
            } else if self.eat('/') {
                v /= self.power()?;
            } else {
                return Ok(v);
            }
        }
    }

    fn power(&mut self) -> Result<f64, CheckError> {
        // Every nesting passes through here.
        self.depth += 1;
        if self.depth > DEEPEST {
            return Err(CheckError(format!("nested more than {DEEPEST} deep")));
        }
        let base = self.atom()?;
        let value = if self.eat('^') { base.powf(self.power()?) } else { base };
        self.depth -= 1;
        Ok(value)
    }

    fn atom(&mut self) -> Result<f64, CheckError> {
        self.skip();
        // A minus that stands at its digits belongs to the number, and so to the point of a scale: `-5 degF`.
        let negative = self.rest.starts_with('-') && self.rest[1..].starts_with(|c: char| c.is_ascii_digit());
        if !negative && self.eat('-') {
            return Ok(-self.power()?);
        }
        if self.eat('(') {
            let v = self.sum()?;
            return if self.eat(')') { Ok(v) } else { Err(CheckError("missing `)`".into())) };
        }
        if self.rest.starts_with(|c: char| c.is_ascii_alphabetic()) {
            return self.function();
        }
        let Some((_, after)) = drycoil_units::parse_number(self.rest) else {
            return Err(CheckError(format!("expected a number at `{}`", self.rest)));
        };
        let number_text = &self.rest[..self.rest.len() - after.len()];
        let (number, _) = drycoil_units::parse_number(number_text).expect("just read");
        self.rest = after;
        for (symbol, factor, offset) in &self.units {
            if let Some(r) = self.rest.strip_prefix(symbol)
                && !r.starts_with(|c: char| c.is_alphanumeric())
            {
                self.rest = r;
                return Ok(number * factor + offset);
            }
        }
        Ok(number)
    }

    fn function(&mut self) -> Result<f64, CheckError> {
        let end = self.rest.find(|c: char| !(c.is_alphanumeric() || c == '_')).unwrap_or(self.rest.len());
        let name = self.rest[..end].to_owned();
        self.rest = &self.rest[end..];
        if !self.eat('(') {
            return Err(CheckError(format!("`{name}` has no value")));
        }
        let mut args = vec![self.sum()?];
        while self.eat(',') {
            args.push(self.sum()?);
        }
        if !self.eat(')') {
            return Err(CheckError("missing `)`".into()));
        }
        match (name.as_str(), args.as_slice()) {
            ("max", a) => Ok(a.iter().copied().fold(f64::NEG_INFINITY, f64::max)),
            ("min", a) => Ok(a.iter().copied().fold(f64::INFINITY, f64::min)),
            ("sum", a) => Ok(a.iter().sum()),
            ("exp", [x]) => Ok(x.exp()),
            ("ln", [x]) => Ok(x.ln()),
            ("sqrt", [x]) => Ok(x.sqrt()),
            ("abs", [x]) => Ok(x.abs()),
            _ => Err(CheckError(format!("unknown function `{name}` of {} values", args.len()))),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn evaluates_numbers_with_units() {
        let v = evaluate("64.364 gr/lb - 200 Btu/h / (90 lb/h * 1094.3 Btu/lb)").unwrap();
        assert!((v * 7000.0 - 50.15).abs() < 0.01);
        assert!((evaluate("75 degF - 55 degF").unwrap() - 20.0 / 1.8).abs() < 1e-9);
        assert!((evaluate("18 delta degF").unwrap() - 10.0).abs() < 1e-9);
        assert!((evaluate("max(3, 2 * 2)").unwrap() - 4.0).abs() < 1e-12);
        assert!(evaluate("q_latent").is_err());
        assert!(evaluate("1 +").is_err());
        assert!((evaluate("2 ^ 3 ^ 2").unwrap() - 512.0).abs() < 1e-9);
        assert!((evaluate("-40 degF").unwrap() + 40.0).abs() < 1e-9);
        assert!((evaluate("5 degF - -4 degF").unwrap() - 5.0).abs() < 1e-9);
        assert!((evaluate("3 - 2").unwrap() - 1.0).abs() < 1e-12);
    }

    #[test]
    fn endless_nesting_is_an_error() {
        for text in ["(", "-", "2^", "max("] {
            assert!(evaluate(&text.repeat(100_000)).is_err());
        }
        let many = vec!["(1)"; 1000].join(" + ");
        assert!((evaluate(&many).unwrap() - 1000.0).abs() < 1e-9);
    }
}
