//! Runs compiled Structured Text.

use crate::compiler::{Argument, Base, Node, Place, Scalar, Statement, Unit};

type Out<T> = Result<T, String>;

impl Unit {
    /// One cycle of a program.
    pub fn cycle(&mut self, program: &str) -> Out<()> {
        let (block, at) = *self.programs.get(program).ok_or("no such program")?;
        let blocks = std::mem::take(&mut self.blocks);
        let mut run = Run { memory: &mut self.memory, blocks: &blocks };
        let result = run.statements(&blocks[block].body, at);
        self.blocks = blocks;
        result
    }
}

struct Run<'a> {
    memory: &'a mut Vec<Scalar>,
    blocks: &'a [crate::compiler::Block],
}

impl Run<'_> {
    fn address(&self, place: &Place, frame: usize) -> Out<usize> {
        let mut at = place.offset
            + match place.base {
                Base::Global(at) => at,
                Base::Local(at) => frame + at,
                Base::Reference(at) => match self.memory[frame + at] {
                    Scalar::Address(address) => address,
                    other => return Err(format!("{other:?} is no reference")),
                },
            };
        for (index, low, high, stride) in &place.indices {
            match self.value(index, frame)? {
                Scalar::Int(k) if (*low..=*high).contains(&k) => at += (k - low) as usize * stride,
                other => return Err(format!("index {other:?} outside {low}..{high}")),
            }
        }
        Ok(at)
    }

    fn holds(&self, node: &Node, frame: usize) -> Out<bool> {
        match self.value(node, frame)? {
            Scalar::Bool(value) => Ok(value),
            other => Err(format!("{other:?} is no BOOL")),
        }
    }

    fn value(&self, node: &Node, frame: usize) -> Out<Scalar> {
        use Scalar::{Bool, Int, Real};
        Ok(match node {
            Node::Constant(value) => *value,
            Node::Read(place) => self.memory[self.address(place, frame)?],
            Node::Unary(operator, a) => match (*operator, self.value(a, frame)?) {
                ("not", Bool(a)) => Bool(!a),
                ("-", Real(a)) => Real(-a),
                ("-", Int(a)) => Int(-a),
                (operator, a) => return Err(format!("{operator} {a:?}")),
            },
            Node::Binary(operator, a, b) => match (*operator, self.value(a, frame)?, self.value(b, frame)?) {
                ("or", Bool(a), Bool(b)) => Bool(a | b),
                ("xor", Bool(a), Bool(b)) => Bool(a ^ b),
                ("and" | "&", Bool(a), Bool(b)) => Bool(a & b),
                ("=", a, b) => Bool(a == b),
                ("<>", a, b) => Bool(a != b),
                ("<", Real(a), Real(b)) => Bool(a < b),
                (">", Real(a), Real(b)) => Bool(a > b),
                ("<=", Real(a), Real(b)) => Bool(a <= b),
                (">=", Real(a), Real(b)) => Bool(a >= b),
                ("<", Int(a), Int(b)) => Bool(a < b),
                (">", Int(a), Int(b)) => Bool(a > b),
                ("<=", Int(a), Int(b)) => Bool(a <= b),
                (">=", Int(a), Int(b)) => Bool(a >= b),
                ("+", Real(a), Real(b)) => Real(a + b),
                ("-", Real(a), Real(b)) => Real(a - b),
                ("*", Real(a), Real(b)) => Real(a * b),
                ("/", Real(a), Real(b)) => Real(a / b),
                ("+", Int(a), Int(b)) => Int(a + b),
                ("-", Int(a), Int(b)) => Int(a - b),
                ("*", Int(a), Int(b)) => Int(a * b),
                (operator, a, b) => return Err(format!("{a:?} {operator} {b:?}")),
            },
            Node::Call(name, given) => match (*name, given.as_slice()) {
                ("sel", [c, no, yes]) => self.value(if self.holds(c, frame)? { yes } else { no }, frame)?,
                ("abs", [a]) => match self.value(a, frame)? {
                    Real(a) => Real(a.abs()),
                    Int(a) => Int(a.abs()),
                    other => return Err(format!("ABS {other:?}")),
                },
                (name, [a, b]) => match (name, self.value(a, frame)?, self.value(b, frame)?) {
                    ("max", Real(a), Real(b)) => Real(if a > b { a } else { b }),
                    ("min", Real(a), Real(b)) => Real(if a < b { a } else { b }),
                    ("max", Int(a), Int(b)) => Int(a.max(b)),
                    ("min", Int(a), Int(b)) => Int(a.min(b)),
                    (name, a, b) => return Err(format!("{name}({a:?}, {b:?})")),
                },
                _ => return Err(name.to_string()),
            },
        })
    }

    fn statements(&mut self, statements: &[Statement], frame: usize) -> Out<()> {
        for statement in statements {
            match statement {
                Statement::Assign(place, node) => {
                    let value = self.value(node, frame)?;
                    let at = self.address(place, frame)?;
                    self.memory[at] = value;
                }
                Statement::If(arms, otherwise) => {
                    let mut taken = None;
                    for (condition, body) in arms {
                        if self.holds(condition, frame)? {
                            taken = Some(body);
                            break;
                        }
                    }
                    self.statements(taken.unwrap_or(otherwise), frame)?;
                }
                Statement::Case(selector, arms, otherwise) => {
                    let value = self.value(selector, frame)?;
                    match arms.iter().find(|(labels, _)| labels.contains(&value)) {
                        Some((_, body)) => self.statements(body, frame)?,
                        None => {
                            if let Some(body) = otherwise {
                                self.statements(body, frame)?;
                            }
                        }
                    }
                }
                Statement::For(place, from, to, body) => {
                    let (Scalar::Int(mut k), Scalar::Int(to)) =
                        (self.value(from, frame)?, self.value(to, frame)?)
                    else {
                        return Err("FOR".to_owned());
                    };
                    while k <= to {
                        let at = self.address(place, frame)?;
                        self.memory[at] = Scalar::Int(k);
                        self.statements(body, frame)?;
                        k += 1;
                    }
                }
                Statement::While(condition, body) => {
                    let mut rounds = 0;
                    while self.holds(condition, frame)? {
                        self.statements(body, frame)?;
                        rounds += 1;
                        if rounds > 10_000 {
                            return Err("WHILE without end".to_owned());
                        }
                    }
                }
                Statement::Call(place, block, given) => {
                    let at = self.address(place, frame)?;
                    for (offset, argument) in given {
                        self.memory[at + offset] = match argument {
                            Argument::Value(node) => self.value(node, frame)?,
                            Argument::Reference(place) => Scalar::Address(self.address(place, frame)?),
                        };
                    }
                    let blocks = self.blocks;
                    self.statements(&blocks[*block].body, at)?;
                }
            }
        }
        Ok(())
    }
}
