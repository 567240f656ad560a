//! A formula as text: is it whole, which inputs does it use, and what is its value?
//!
//! It is read once into a list of operations for a stack of numbers; [`Formula::fill`] runs the list over many draws side by
//! side, `jet` runs it with derivatives. What the inputs mean is left to the caller.
//!
//! ```text
//! sum     = product (("+" | "-") product)*        from left to right
//! product = signed (("*" | "/") signed)*          from left to right
//! signed  = ("+" | "-") signed | power            -a^2 is -(a^2)
//! power   = atom ("^" signed)?                    from right to left: a^b^c is a^(b^c)
//! atom    = number | name | pi | name "(" sum ("," sum)* ")" | "(" sum ")"
//! ```
//! Limits: 10 000 characters, brackets and signs 100 deep (so that no formula can exhaust the stack).

use crate::keys::nearest;
use crate::math;
use crate::refused::Refused;

/// Longest formula, in characters.
const LONGEST: usize = 10_000;

/// Deepest nesting of brackets, signs and powers.
const DEEPEST: usize = 100;

/// Draws that go through the operations side by side.
pub const LANE: usize = 256;

/// A function of one number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Function {
    /// Square root.
    Sqrt,
    /// e to the power of.
    Exp,
    /// Natural logarithm.
    Ln,
    /// Logarithm to the base 10.
    Log10,
    /// Sine of radians.
    Sin,
    /// Cosine of radians.
    Cos,
    /// Tangent of radians.
    Tan,
    /// Arc sine, radians.
    Asin,
    /// Arc cosine, radians.
    Acos,
    /// Arc tangent, radians.
    Atan,
    /// Absolute value.
    Abs,
}

impl Function {
    fn named(name: &str) -> Option<Self> {
        Some(match name {
            "sqrt" => Self::Sqrt,
            "exp" => Self::Exp,
            "ln" => Self::Ln,
            "log10" => Self::Log10,
            "sin" => Self::Sin,
            "cos" => Self::Cos,
            "tan" => Self::Tan,
            "asin" => Self::Asin,
            "acos" => Self::Acos,
            "atan" => Self::Atan,
            "abs" => Self::Abs,
            _ => return None,
        })
    }

    /// Its value at `x`.
    pub fn at(self, x: f64) -> f64 {
        match self {
            Self::Sqrt => x.sqrt(),
            Self::Exp => math::exp(x),
            Self::Ln => math::ln(x),
            Self::Log10 => math::log10(x),
            Self::Sin => math::sin(x),
            Self::Cos => math::cos(x),
            Self::Tan => math::tan(x),
            Self::Asin => math::asin(x),
            Self::Acos => math::acos(x),
            Self::Atan => math::atan(x),
            Self::Abs => x.abs(),
        }
    }
}

/// What two numbers become.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pair {
    /// a + b.
    Add,
    /// a − b.
    Subtract,
    /// a b.
    Multiply,
    /// a / b.
    Divide,
    /// a to the power b.
    Power,
    /// The smaller.
    Least,
    /// The larger.
    Greatest,
}

impl Pair {
    /// Its value at `a`, `b`.
    pub fn at(self, a: f64, b: f64) -> f64 {
        match self {
            Self::Add => a + b,
            Self::Subtract => a - b,
            Self::Multiply => a * b,
            Self::Divide => a / b,
            Self::Power => power(a, b),
            // Unlike f64::min, which drops what is not a number.
            Self::Least => {
                if b < a || b.is_nan() {
                    b
                } else {
                    a
                }
            }
            Self::Greatest => {
                if b > a || b.is_nan() {
                    b
                } else {
                    a
                }
            }
        }
    }
}

/// `a` to the power `b`; squares and square roots, the powers of this trade, by their own operations.
pub fn power(a: f64, b: f64) -> f64 {
    if b == 2.0 { a * a } else { math::pow(a, b) }
}

/// One operation on the stack.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Step {
    /// Puts a number on it.
    Number(f64),
    /// Puts an input on it, by its place in the list of inputs.
    Input(usize),
    /// Changes the sign of its top.
    Negate,
    /// Puts a function of its top in its place.
    Call(Function),
    /// Puts what its two top numbers become in their place.
    Join(Pair),
}

/// A formula that was read.
#[derive(Clone, Debug, PartialEq)]
pub struct Formula {
    steps: Vec<Step>,
    height: usize,
}

/// Every name that a formula understands by itself.
pub const OWN_NAMES: &[&str] = &["pi", "sqrt", "exp", "ln", "log10", "sin", "cos", "tan", "asin", "acos", "atan", "abs", "min", "max"];

/// Whether `name` can stand for an input: a letter, then letters, digits and _, and no name of a function.
pub fn can_be_named(name: &str) -> bool {
    let letters_and_digits = name.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'_');
    name.bytes().next().is_some_and(|first| first.is_ascii_alphabetic()) && letters_and_digits && !OWN_NAMES.contains(&name)
}

impl Formula {
    /// Reads `text`; `inputs` are the names that it may use. Refused by the character where it can't go on.
    pub fn read(text: &str, inputs: &[&str]) -> Result<Self, Refused> {
        let letters: Vec<char> = text.chars().collect();
        if letters.len() > LONGEST {
            let allowed = format!("a formula of {LONGEST} characters or less");
            return Err(Refused::new("formula", format!("{} characters long", letters.len()), allowed, "work it out in parts"));
        }
        let mut reader = Reader { letters: &letters, at: 0, depth: 0, inputs, steps: Vec::new() };
        reader.sum()?;
        reader.skip_blanks();
        if reader.at < letters.len() {
            return Err(reader.stuck("an operator (+ - * / ^) or the end"));
        }
        let steps = reader.steps;
        Ok(Self { height: height(&steps), steps })
    }

    /// Its operations, in order.
    pub fn steps(&self) -> &[Step] {
        &self.steps
    }

    /// Whether it uses the input at that place of the list.
    pub fn uses(&self, input: usize) -> bool {
        self.steps.contains(&Step::Input(input))
    }

    /// Its value where the inputs are `at`.
    pub fn value(&self, at: &[f64]) -> f64 {
        let mut stack: Vec<f64> = Vec::with_capacity(self.height);
        for step in &self.steps {
            match *step {
                Step::Number(x) => stack.push(x),
                Step::Input(i) => stack.push(at.get(i).copied().unwrap_or(f64::NAN)),
                Step::Negate => on_top(&mut stack, |x| -x),
                Step::Call(function) => on_top(&mut stack, |x| function.at(x)),
                Step::Join(pair) => {
                    let b = stack.pop().unwrap_or(f64::NAN);
                    on_top(&mut stack, |a| pair.at(a, b));
                }
            }
        }
        stack.pop().unwrap_or(f64::NAN)
    }

    /// A stack for [`Formula::fill`].
    pub fn stack(&self) -> Vec<[f64; LANE]> {
        vec![[0.0; LANE]; self.height]
    }

    /// Its values over [`LANE`] draws: `columns` holds the draws of each input, the result is the bottom of `stack`.
    pub fn fill<'s>(&self, columns: &[[f64; LANE]], stack: &'s mut [[f64; LANE]]) -> &'s [f64; LANE] {
        let mut top = 0;
        for step in &self.steps {
            match *step {
                Step::Number(x) => {
                    stack[top] = [x; LANE];
                    top += 1;
                }
                Step::Input(i) => {
                    stack[top] = columns[i];
                    top += 1;
                }
                Step::Negate => stack[top - 1].iter_mut().for_each(|x| *x = -*x),
                Step::Call(function) => stack[top - 1].iter_mut().for_each(|x| *x = function.at(*x)),
                Step::Join(pair) => {
                    top -= 1;
                    let (under, over) = stack.split_at_mut(top);
                    join(pair, &mut under[top - 1], &over[0]);
                }
            }
        }
        debug_assert!(top == 1, "a formula that was read leaves one number on the stack");
        &stack[0]
    }
}

fn on_top(stack: &mut [f64], change: impl Fn(f64) -> f64) {
    if let Some(top) = stack.last_mut() {
        *top = change(*top);
    }
}

// The four operations of most formulas stand alone, so that each becomes one loop over wide registers.
fn join(pair: Pair, a: &mut [f64; LANE], b: &[f64; LANE]) {
    let both = a.iter_mut().zip(b);
    match pair {
        Pair::Add => both.for_each(|(a, b)| *a += b),
        Pair::Subtract => both.for_each(|(a, b)| *a -= b),
        Pair::Multiply => both.for_each(|(a, b)| *a *= b),
        Pair::Divide => both.for_each(|(a, b)| *a /= b),
        _ => both.for_each(|(a, b)| *a = pair.at(*a, *b)),
    }
}

/// The most numbers that stand on the stack at once.
fn height(steps: &[Step]) -> usize {
    let (mut now, mut most) = (0_usize, 0);
    for step in steps {
        match step {
            Step::Number(_) | Step::Input(_) => now += 1,
            Step::Join(_) => now -= 1,
            Step::Negate | Step::Call(_) => {}
        }
        most = most.max(now);
    }
    most
}

struct Reader<'t> {
    letters: &'t [char],
    at: usize,
    depth: usize,
    inputs: &'t [&'t str],
    steps: Vec<Step>,
}

impl Reader<'_> {
    fn sum(&mut self) -> Result<(), Refused> {
        self.product()?;
        loop {
            let pair = match self.peek() {
                Some('+') => Pair::Add,
                Some('-') => Pair::Subtract,
                _ => return Ok(()),
            };
            self.at += 1;
            self.product()?;
            self.steps.push(Step::Join(pair));
        }
    }

    fn product(&mut self) -> Result<(), Refused> {
        self.signed()?;
        loop {
            let pair = match self.peek() {
                Some('*') => Pair::Multiply,
                Some('/') => Pair::Divide,
                _ => return Ok(()),
            };
            self.at += 1;
            self.signed()?;
            self.steps.push(Step::Join(pair));
        }
    }

    /// Every nesting passes through here, so this is where its depth is held.
    fn signed(&mut self) -> Result<(), Refused> {
        if self.depth >= DEEPEST {
            return Err(self.stuck(&format!("brackets, signs and powers nested {DEEPEST} deep or less")));
        }
        self.depth += 1;
        match self.peek() {
            Some(sign @ ('+' | '-')) => {
                self.at += 1;
                self.signed()?;
                if sign == '-' {
                    self.steps.push(Step::Negate);
                }
            }
            _ => self.power()?,
        }
        self.depth -= 1;
        Ok(())
    }

    fn power(&mut self) -> Result<(), Refused> {
        self.atom()?;
        if self.peek() == Some('^') {
            self.at += 1;
            self.signed()?;
            self.steps.push(Step::Join(Pair::Power));
        }
        Ok(())
    }

    fn atom(&mut self) -> Result<(), Refused> {
        match self.peek() {
            Some('(') => {
                self.at += 1;
                self.sum()?;
                self.close("an operator (+ - * / ^) or )")
            }
            Some(first) if first.is_ascii_digit() || first == '.' => self.number(),
            Some(first) if first.is_ascii_alphabetic() => self.name(),
            _ => Err(self.stuck("a number, a name, a sign or (")),
        }
    }

    fn number(&mut self) -> Result<(), Refused> {
        let start = self.at;
        self.digits();
        if self.letters.get(self.at) == Some(&'.') {
            self.at += 1;
            self.digits();
        }
        if matches!(self.letters.get(self.at), Some('e' | 'E')) {
            let sign = usize::from(matches!(self.letters.get(self.at + 1), Some('+' | '-')));
            if self.letters.get(self.at + 1 + sign).is_some_and(char::is_ascii_digit) {
                self.at += 1 + sign;
                self.digits();
            }
        }
        let text: String = self.letters[start..self.at].iter().collect();
        match text.parse::<f64>() {
            Ok(x) if x.is_finite() => self.steps.push(Step::Number(x)),
            _ => {
                self.at = start;
                return Err(self.stuck("a finite number, as in 1.5e-6"));
            }
        }
        Ok(())
    }

    fn digits(&mut self) {
        while self.letters.get(self.at).is_some_and(char::is_ascii_digit) {
            self.at += 1;
        }
    }

    fn name(&mut self) -> Result<(), Refused> {
        let start = self.at;
        while self.letters.get(self.at).is_some_and(|c| c.is_ascii_alphanumeric() || *c == '_') {
            self.at += 1;
        }
        let name: String = self.letters[start..self.at].iter().collect();
        let called = self.peek() == Some('(');
        if let Some(i) = self.inputs.iter().position(|input| *input == name) {
            self.steps.push(Step::Input(i));
            return Ok(());
        }
        if name == "pi" {
            self.steps.push(Step::Number(math::PI));
            return Ok(());
        }
        match (Function::named(&name), name.as_str()) {
            _ if OWN_NAMES.contains(&name.as_str()) && !called => Err(self.stuck(&format!("( after {name}"))),
            (Some(function), _) => {
                self.at += 1;
                self.sum()?;
                self.close(")")?;
                self.steps.push(Step::Call(function));
                Ok(())
            }
            (None, "min") => self.several(Pair::Least),
            (None, "max") => self.several(Pair::Greatest),
            (None, _) => Err(self.unknown(&name, start)),
        }
    }

    /// The arguments of min or max: two or more.
    fn several(&mut self, pair: Pair) -> Result<(), Refused> {
        self.at += 1;
        self.sum()?;
        if self.peek() != Some(',') {
            return Err(self.stuck("a comma: min and max compare two numbers or more"));
        }
        while self.peek() == Some(',') {
            self.at += 1;
            self.sum()?;
            self.steps.push(Step::Join(pair));
        }
        self.close("a comma or )")
    }

    fn close(&mut self, wanted: &str) -> Result<(), Refused> {
        if self.peek() != Some(')') {
            return Err(self.stuck(wanted));
        }
        self.at += 1;
        Ok(())
    }

    fn skip_blanks(&mut self) {
        while self.letters.get(self.at).is_some_and(|c| c.is_whitespace()) {
            self.at += 1;
        }
    }

    fn peek(&mut self) -> Option<char> {
        self.skip_blanks();
        self.letters.get(self.at).copied()
    }

    fn stuck(&mut self, wanted: &str) -> Refused {
        let found = match self.peek() {
            Some(c) => format!("broken at character {} ({c:?})", self.at + 1),
            None => format!("broken at its end (character {})", self.at + 1),
        };
        Refused::new("formula", found, format!("{wanted} there"), "mend the formula at that place")
    }

    fn unknown(&self, name: &str, start: usize) -> Refused {
        let short: String = name.chars().take(40).collect();
        let known = self.inputs.iter().copied().chain(OWN_NAMES.iter().copied());
        let remedy = match nearest(name, known.clone()) {
            Some(near) => format!("write {near}, or give {short} a value in inputs"),
            None => format!("give {short} a value in inputs"),
        };
        let allowed = known.take(40).collect::<Vec<_>>().join(", ");
        Refused::new("formula", format!("using a name that it does not know at character {} ({short})", start + 1), allowed, remedy)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn value(text: &str) -> f64 {
        Formula::read(text, &["a", "b", "x_1"]).unwrap().value(&[3.0, 4.0, 0.5])
    }

    fn fault(text: &str) -> String {
        Formula::read(text, &["a", "b", "x_1"]).unwrap_err().to_string()
    }

    #[test]
    fn operators_bind_as_on_paper() {
        for (text, wanted) in [
            ("1 + 2*a - b/2", 5.0),
            ("-a^2", -9.0),
            ("2^-1", 0.5),
            ("2^3^2", 512.0),
            ("a - b - 1", -2.0),
            ("8/b/2", 1.0),
            ("--a", 3.0),
            ("(a + b)*x_1", 3.5),
            ("max(a, b, 1) - min(a, b)", 1.0),
            ("1.5e1 + .5 + 2.", 17.5),
            ("sqrt(a^2 + b^2)", 5.0),
            ("abs(a-b)", 1.0),
        ] {
            assert_eq!(value(text), wanted, "{text}");
        }
        assert!((value("4*atan(1) - pi")).abs() < 1e-15);
        assert!((value("log10(1000) + ln(exp(2))") - 5.0).abs() < 1e-14);
    }

    #[test]
    fn a_broken_formula_is_refused_by_the_character() {
        for (text, at) in [
            ("a +* 2", "character 4 ('*')"),
            ("a +", "its end (character 4)"),
            ("(a", "its end (character 3)"),
            ("a b", "character 3 ('b')"),
            ("sqrt a", "character 6 ('a')"),
            ("min(a)", "character 6 (')')"),
            ("", "its end (character 1)"),
            ("a $ b", "character 3 ('$')"),
            ("1.2.3", "character 4 ('.')"),
            (".", "character 1 ('.')"),
            ("1e999", "character 1 ('1')"),
            ("a + bb", "character 5 (bb)"),
        ] {
            assert!(fault(text).contains(at), "{text}: {}", fault(text));
        }
    }

    #[test]
    fn nesting_without_end_is_refused_and_not_a_crash() {
        for text in ["(".repeat(9_000), "-".repeat(9_000), "2^".repeat(4_000), "abs(".repeat(2_000)] {
            assert!(fault(&text).contains("100 deep"), "{}", fault(&text));
        }
        assert!(fault(&"(".repeat(100_000)).contains("characters"));
        assert_eq!(value(&format!("{}a{}", "(".repeat(99), ")".repeat(99))), 3.0);
    }

    #[test]
    fn draws_side_by_side_have_the_bits_of_single_values() {
        let formula = Formula::read("(a - b*x_1)^2/max(b, sqrt(abs(a))) + a^x_1 - 7", &["a", "b", "x_1"]).unwrap();
        let mut columns = vec![[0.0; LANE]; 3];
        for (j, column) in columns.iter_mut().enumerate() {
            for (i, x) in column.iter_mut().enumerate() {
                *x = 0.37 * i as f64 + 1.3 * j as f64 + 0.1;
            }
        }
        let mut stack = formula.stack();
        let all = formula.fill(&columns, &mut stack);
        for (i, found) in all.iter().enumerate() {
            let alone = formula.value(&[columns[0][i], columns[1][i], columns[2][i]]);
            assert_eq!(found.to_bits(), alone.to_bits());
        }
    }
}
