//! From tokens to statements with resolved places. Types are strict: nothing is converted silently.

use crate::lexer::{Token, tokens};
use std::collections::BTreeMap;

#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Scalar {
    Bool(bool),
    Int(i64),
    Real(f64),
    /// Type and value of an enumeration.
    Enum(usize, usize),
    /// Where an in-out variable stands.
    Address(usize),
}

#[derive(Debug, Clone, PartialEq)]
pub enum Type {
    Bool,
    Int,
    Real,
    Enum(usize),
    Struct(usize),
    Block(usize),
    Array(Box<Type>, Vec<(i64, i64)>),
}

#[derive(Debug, Clone)]
pub enum Base {
    Global(usize),
    Local(usize),
    Reference(usize),
}

#[derive(Debug, Clone)]
pub struct Place {
    pub base: Base,
    pub offset: usize,
    /// Index, least, largest, stride.
    pub indices: Vec<(Node, i64, i64, usize)>,
}

#[derive(Debug, Clone)]
pub enum Node {
    Constant(Scalar),
    Read(Place),
    Unary(&'static str, Box<Node>),
    Binary(&'static str, Box<Node>, Box<Node>),
    Call(&'static str, Vec<Node>),
}

#[derive(Debug, Clone)]
pub enum Argument {
    Value(Node),
    Reference(Place),
}

#[derive(Debug, Clone)]
pub enum Statement {
    Assign(Place, Node),
    If(Vec<(Node, Vec<Statement>)>, Vec<Statement>),
    Case(Node, Vec<(Vec<Scalar>, Vec<Statement>)>, Option<Vec<Statement>>),
    For(Place, Node, Node, Vec<Statement>),
    While(Node, Vec<Statement>),
    Call(Place, usize, Vec<(usize, Argument)>),
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Role {
    Input,
    InOut,
    Inner,
    Constant,
}

#[derive(Debug, Clone)]
struct Variable {
    name: String,
    offset: usize,
    of: Type,
    role: Role,
}

#[derive(Debug, Clone, Default)]
pub struct Block {
    variables: Vec<Variable>,
    image: Vec<Scalar>,
    pub body: Vec<Statement>,
}

#[derive(Debug, Default)]
pub struct Unit {
    enums: Vec<Vec<String>>,
    structs: Vec<(Vec<Variable>, Vec<Scalar>)>,
    pub blocks: Vec<Block>,
    names: BTreeMap<String, Type>,
    globals: Vec<Variable>,
    pub memory: Vec<Scalar>,
    /// Block and address of each program.
    pub programs: BTreeMap<String, (usize, usize)>,
}

struct Parser {
    tokens: Vec<(Token, usize)>,
    at: usize,
    unit: Unit,
    locals: Vec<Variable>,
}

type Out<T> = Result<T, String>;

pub fn compile(text: &str) -> Out<Unit> {
    let mut p = Parser { tokens: tokens(text)?, at: 0, unit: Unit::default(), locals: Vec::new() };
    while p.at < p.tokens.len() {
        p.unit_part()?;
    }
    Ok(p.unit)
}

impl Unit {
    fn image(&self, of: &Type) -> Vec<Scalar> {
        match of {
            Type::Bool => vec![Scalar::Bool(false)],
            Type::Int => vec![Scalar::Int(0)],
            Type::Real => vec![Scalar::Real(0.0)],
            Type::Enum(k) => vec![Scalar::Enum(*k, 0)],
            Type::Struct(k) => self.structs[*k].1.clone(),
            Type::Block(k) => self.blocks[*k].image.clone(),
            Type::Array(item, dims) => {
                let count: i64 = dims.iter().map(|(low, high)| high - low + 1).product();
                let one = self.image(item);
                std::iter::repeat_n(one, count as usize).flatten().collect()
            }
        }
    }

    /// Address of a scalar of the globals, as in `zones[2].dew_point`.
    pub fn address(&self, path: &str) -> Out<usize> {
        let mut p = Parser {
            tokens: tokens(path)?,
            at: 0,
            unit: Unit {
                enums: self.enums.clone(),
                structs: self.structs.clone(),
                globals: self.globals.clone(),
                names: self.names.clone(),
                ..Unit::default()
            },
            locals: Vec::new(),
        };
        let (place, _, _) = p.place()?;
        let mut address = place.offset + if let Base::Global(at) = place.base { at } else { 0 };
        for (index, low, high, stride) in place.indices {
            match index {
                Node::Constant(Scalar::Int(k)) if (low..=high).contains(&k) => {
                    address += (k - low) as usize * stride;
                }
                _ => return Err(format!("{path}: index")),
            }
        }
        Ok(address)
    }
}

impl Parser {
    fn fail<T>(&self, what: impl std::fmt::Display) -> Out<T> {
        let at = self.at.min(self.tokens.len().saturating_sub(1));
        let line = self.tokens.get(at).map_or(0, |t| t.1);
        Err(format!("line {line}: {what}, at {:?}", self.tokens.get(at).map(|t| &t.0)))
    }

    fn peek_sign(&self, sign: &str) -> bool {
        matches!(self.tokens.get(self.at), Some((Token::Sign(s), _)) if *s == sign)
    }

    fn peek_word(&self, word: &str) -> bool {
        matches!(self.tokens.get(self.at), Some((Token::Word(w), _)) if w == word)
    }

    fn sign(&mut self, sign: &str) -> bool {
        let found = self.peek_sign(sign);
        self.at += usize::from(found);
        found
    }

    fn word(&mut self, word: &str) -> bool {
        let found = self.peek_word(word);
        self.at += usize::from(found);
        found
    }

    fn expect(&mut self, text: &str) -> Out<()> {
        if self.sign(text) || self.word(text) { Ok(()) } else { self.fail(format!("`{text}` expected")) }
    }

    fn name(&mut self) -> Out<String> {
        const KEYWORDS: [&str; 37] = [
            "if",
            "then",
            "else",
            "elsif",
            "end_if",
            "case",
            "of",
            "end_case",
            "for",
            "to",
            "by",
            "do",
            "end_for",
            "while",
            "end_while",
            "type",
            "end_type",
            "struct",
            "end_struct",
            "var",
            "var_input",
            "var_in_out",
            "var_global",
            "end_var",
            "constant",
            "array",
            "function_block",
            "end_function_block",
            "program",
            "end_program",
            "and",
            "or",
            "xor",
            "not",
            "mod",
            "true",
            "false",
        ];
        match self.tokens.get(self.at) {
            Some((Token::Word(w), _)) if !KEYWORDS.contains(&w.as_str()) => {
                self.at += 1;
                Ok(w.clone())
            }
            _ => self.fail("a name expected"),
        }
    }

    fn new_name(&mut self, name: String, of: Type) -> Out<()> {
        if self.unit.names.contains_key(&name) {
            return self.fail(format!("`{name}` twice"));
        }
        self.unit.names.insert(name, of);
        Ok(())
    }

    fn unit_part(&mut self) -> Out<()> {
        if self.word("type") {
            let name = self.name()?;
            self.expect(":")?;
            if self.word("struct") {
                let variables = self.variables("end_struct", Role::Inner)?;
                let mut image = Vec::new();
                let mut fields: Vec<Variable> = Vec::new();
                for (name, of, initial) in variables {
                    if fields.iter().any(|f| f.name == name) {
                        return self.fail(format!("field `{name}` twice"));
                    }
                    fields.push(Variable { name, offset: image.len(), of: of.clone(), role: Role::Inner });
                    image.extend(initial.map_or_else(|| self.unit.image(&of), |s| vec![s]));
                }
                self.unit.structs.push((fields, image));
                let of = Type::Struct(self.unit.structs.len() - 1);
                self.new_name(name, of)?;
            } else {
                self.expect("(")?;
                let mut values = vec![self.name()?];
                while self.sign(",") {
                    values.push(self.name()?);
                }
                self.expect(")")?;
                self.unit.enums.push(values);
                let of = Type::Enum(self.unit.enums.len() - 1);
                self.new_name(name, of)?;
            }
            self.expect(";")?;
            return self.expect("end_type");
        }
        if self.word("var_global") {
            let role = if self.word("constant") { Role::Constant } else { Role::Inner };
            for (name, of, initial) in self.variables("end_var", role)? {
                if self.unit.globals.iter().any(|v| v.name == name) {
                    return self.fail(format!("global `{name}` twice"));
                }
                let offset = self.unit.memory.len();
                let image = initial.map_or_else(|| self.unit.image(&of), |s| vec![s]);
                self.unit.memory.extend(image);
                self.unit.globals.push(Variable { name, offset, of, role });
            }
            return Ok(());
        }
        let (is_program, end) = match () {
            () if self.word("function_block") => (false, "end_function_block"),
            () if self.word("program") => (true, "end_program"),
            () => return self.fail("a declaration expected"),
        };
        let name = self.name()?;
        let mut image = Vec::new();
        self.locals.clear();
        loop {
            let role = match () {
                () if self.word("var_input") => Role::Input,
                () if self.word("var_in_out") => Role::InOut,
                () if self.word("var") => Role::Inner,
                () => break,
            };
            for (name, of, initial) in self.variables("end_var", role)? {
                if self.locals.iter().any(|v| v.name == name) {
                    return self.fail(format!("`{name}` twice"));
                }
                self.locals.push(Variable { name, offset: image.len(), of: of.clone(), role });
                match role {
                    Role::InOut => image.push(Scalar::Address(usize::MAX)),
                    _ => image.extend(initial.map_or_else(|| self.unit.image(&of), |s| vec![s])),
                }
            }
        }
        let body = self.statements(&[end])?;
        self.expect(end)?;
        let variables = std::mem::take(&mut self.locals);
        self.unit.blocks.push(Block { variables, image: image.clone(), body });
        let block = self.unit.blocks.len() - 1;
        if is_program {
            let at = self.unit.memory.len();
            self.unit.memory.extend(image);
            self.unit.programs.insert(name, (block, at));
            Ok(())
        } else {
            self.new_name(name, Type::Block(block))
        }
    }

    fn variables(&mut self, end: &str, role: Role) -> Out<Vec<(String, Type, Option<Scalar>)>> {
        let mut out = Vec::new();
        while !self.word(end) {
            let mut names = vec![self.name()?];
            while self.sign(",") {
                names.push(self.name()?);
            }
            self.expect(":")?;
            let of = self.type_name()?;
            let mut initial = None;
            if self.sign(":=") {
                let (node, found) = self.expression()?;
                if found != of {
                    return self.fail("initial value of another type");
                }
                let Node::Constant(value) = fold(node) else { return self.fail("a constant expected") };
                initial = Some(value);
            } else if role == Role::Constant {
                return self.fail("constant without value");
            }
            self.expect(";")?;
            out.extend(names.into_iter().map(|name| (name, of.clone(), initial)));
        }
        Ok(out)
    }

    fn integer(&mut self) -> Out<i64> {
        match self.tokens.get(self.at) {
            Some((Token::Integer(k), _)) => {
                self.at += 1;
                Ok(*k)
            }
            _ => self.fail("an integer expected"),
        }
    }

    fn type_name(&mut self) -> Out<Type> {
        if self.word("array") {
            self.expect("[")?;
            let mut dims = Vec::new();
            loop {
                let low = self.integer()?;
                self.expect("..")?;
                let high = self.integer()?;
                if high < low {
                    return self.fail("empty array");
                }
                dims.push((low, high));
                if !self.sign(",") {
                    break;
                }
            }
            self.expect("]")?;
            self.expect("of")?;
            return Ok(Type::Array(Box::new(self.type_name()?), dims));
        }
        let name = self.name()?;
        match name.as_str() {
            "bool" => Ok(Type::Bool),
            "dint" => Ok(Type::Int),
            "lreal" => Ok(Type::Real),
            _ => match self.unit.names.get(&name) {
                Some(of) => Ok(of.clone()),
                None => self.fail(format!("type `{name}` unknown")),
            },
        }
    }

    fn statements(&mut self, ends: &[&str]) -> Out<Vec<Statement>> {
        let mut out = Vec::new();
        loop {
            if ends.iter().any(|end| self.peek_word(end)) {
                return Ok(out);
            }
            if self.sign(";") {
                continue;
            }
            out.push(self.statement()?);
            self.expect(";")?;
        }
    }

    fn condition(&mut self) -> Out<Node> {
        match self.expression()? {
            (node, Type::Bool) => Ok(node),
            _ => self.fail("a BOOL expected"),
        }
    }

    fn statement(&mut self) -> Out<Statement> {
        if self.word("if") {
            let mut arms = Vec::new();
            let mut otherwise = Vec::new();
            loop {
                let condition = self.condition()?;
                self.expect("then")?;
                arms.push((condition, self.statements(&["elsif", "else", "end_if"])?));
                if !self.word("elsif") {
                    break;
                }
            }
            if self.word("else") {
                otherwise = self.statements(&["end_if"])?;
            }
            self.expect("end_if")?;
            return Ok(Statement::If(arms, otherwise));
        }
        if self.word("case") {
            return self.case();
        }
        if self.word("for") {
            let (variable, of, role) = self.place()?;
            self.expect(":=")?;
            let from = self.expression()?;
            self.expect("to")?;
            let to = self.expression()?;
            if [&of, &from.1, &to.1] != [&Type::Int; 3] || role == Role::Constant {
                return self.fail("FOR runs over DINT");
            }
            self.expect("do")?;
            let body = self.statements(&["end_for"])?;
            self.expect("end_for")?;
            return Ok(Statement::For(variable, from.0, to.0, body));
        }
        if self.word("while") {
            let condition = self.condition()?;
            self.expect("do")?;
            let body = self.statements(&["end_while"])?;
            self.expect("end_while")?;
            return Ok(Statement::While(condition, body));
        }
        let (place, of, role) = self.place()?;
        if let Type::Block(block) = of {
            return self.call(place, block);
        }
        self.expect(":=")?;
        let (value, found) = self.expression()?;
        if matches!(role, Role::Constant | Role::Input) {
            return self.fail("a constant or input is written");
        }
        if found != of || matches!(of, Type::Struct(_) | Type::Array(..)) {
            return self.fail(format!("{found:?} given to {of:?}"));
        }
        Ok(Statement::Assign(place, value))
    }

    fn case(&mut self) -> Out<Statement> {
        let (selector, of) = self.expression()?;
        if !matches!(of, Type::Enum(_) | Type::Int) {
            return self.fail("CASE runs over an enumeration or integers");
        }
        self.expect("of")?;
        let mut arms: Vec<(Vec<Scalar>, Vec<Statement>)> = Vec::new();
        let mut otherwise = None;
        loop {
            if self.word("else") {
                otherwise = Some(self.statements(&["end_case"])?);
            }
            if self.word("end_case") {
                return Ok(Statement::Case(selector, arms, otherwise));
            }
            let mut labels = Vec::new();
            loop {
                let (label, found) = self.primary()?;
                let Node::Constant(label) = label else { return self.fail("a constant label expected") };
                if found != of || arms.iter().any(|(old, _)| old.contains(&label)) {
                    return self.fail("label of another type, or twice");
                }
                labels.push(label);
                if !self.sign(",") {
                    break;
                }
            }
            self.expect(":")?;
            let mut body = Vec::new();
            // A label is a value with or without its type, before a colon or comma; anything else is a statement.
            while !self.peek_word("else") && !self.peek_word("end_case") && !self.label_ahead() {
                if self.sign(";") {
                    continue;
                }
                body.push(self.statement()?);
                self.expect(";")?;
            }
            arms.push((labels, body));
        }
    }

    fn label_ahead(&self) -> bool {
        matches!(self.tokens.get(self.at), Some((Token::Integer(_), _)))
            || matches!(self.tokens.get(self.at + 1), Some((Token::Sign("#" | ":" | ","), _)))
    }

    fn call(&mut self, place: Place, block: usize) -> Out<Statement> {
        self.expect("(")?;
        let mut given = Vec::new();
        let variables = self.unit.blocks[block].variables.clone();
        while !self.sign(")") {
            if !given.is_empty() {
                self.expect(",")?;
            }
            let name = self.name()?;
            self.expect(":=")?;
            let Some(v) =
                variables.iter().find(|v| v.name == name && matches!(v.role, Role::Input | Role::InOut))
            else {
                return self.fail(format!("no input `{name}`"));
            };
            if v.role == Role::InOut {
                let (place, of, role) = self.place()?;
                if of != v.of || role == Role::Constant {
                    return self.fail(format!("`{name}` of another type"));
                }
                given.push((v.offset, Argument::Reference(place)));
            } else {
                let (value, of) = self.expression()?;
                if of != v.of {
                    return self.fail(format!("`{name}` of another type"));
                }
                given.push((v.offset, Argument::Value(value)));
            }
        }
        for v in variables.iter().filter(|v| v.role == Role::InOut) {
            if given.iter().filter(|(offset, _)| *offset == v.offset).count() != 1 {
                return self.fail(format!("in-out `{}` must be given once", v.name));
            }
        }
        Ok(Statement::Call(place, block, given))
    }

    fn place(&mut self) -> Out<(Place, Type, Role)> {
        let name = self.name()?;
        let local = self.locals.iter().find(|v| v.name == name).cloned();
        let (base, v) = match local {
            Some(v) if v.role == Role::InOut => (Base::Reference(v.offset), v),
            Some(v) => (Base::Local(v.offset), v),
            None => match self.unit.globals.iter().find(|v| v.name == name) {
                Some(v) => (Base::Global(v.offset), v.clone()),
                None => return self.fail(format!("`{name}` unknown")),
            },
        };
        let mut place = Place { base, offset: 0, indices: Vec::new() };
        let mut of = v.of;
        loop {
            if self.sign(".") {
                let field = self.name()?;
                let Type::Struct(k) = of else { return self.fail("no structure") };
                let Some(found) = self.unit.structs[k].0.iter().find(|f| f.name == field).cloned() else {
                    return self.fail(format!("no field `{field}`"));
                };
                place.offset += found.offset;
                of = found.of;
            } else if self.sign("[") {
                let Type::Array(item, dims) = of else { return self.fail("no array") };
                let mut stride = self.unit.image(&item).len();
                let mut found = Vec::new();
                for (k, _) in dims.iter().enumerate() {
                    if k > 0 {
                        self.expect(",")?;
                    }
                    match self.expression()? {
                        (node, Type::Int) => found.push(node),
                        _ => return self.fail("an index is a DINT"),
                    }
                }
                self.expect("]")?;
                for ((low, high), node) in dims.iter().zip(found).rev() {
                    place.indices.push((node, *low, *high, stride));
                    stride *= (high - low + 1) as usize;
                }
                of = *item;
            } else {
                return Ok((place, of, v.role));
            }
        }
    }

    fn expression(&mut self) -> Out<(Node, Type)> {
        self.level(0)
    }

    /// Operators from the loosest to the tightest, as the standard lists them.
    fn level(&mut self, level: usize) -> Out<(Node, Type)> {
        const LEVELS: [&[&str]; 7] = [
            &["or"],
            &["xor"],
            &["and", "&"],
            &["=", "<>"],
            &["<", ">", "<=", ">="],
            &["+", "-"],
            &["*", "/", "mod"],
        ];
        if level == LEVELS.len() {
            return self.unary();
        }
        let mut left = self.level(level + 1)?;
        'more: loop {
            for operator in LEVELS[level] {
                if self.sign(operator) || self.word(operator) {
                    let right = self.level(level + 1)?;
                    if left.1 != right.1 {
                        return self.fail(format!("{:?} {operator} {:?}", left.1, right.1));
                    }
                    let of = match (*operator, &left.1) {
                        ("or" | "xor" | "and" | "&", Type::Bool)
                        | ("=" | "<>", Type::Bool | Type::Int | Type::Real | Type::Enum(_))
                        | ("<" | ">" | "<=" | ">=", Type::Int | Type::Real) => Type::Bool,
                        ("+" | "-" | "*" | "/", Type::Int | Type::Real) | ("mod", Type::Int) => left.1,
                        (_, of) => return self.fail(format!("{operator} of {of:?}")),
                    };
                    left = (Node::Binary(operator, Box::new(left.0), Box::new(right.0)), of);
                    continue 'more;
                }
            }
            return Ok(left);
        }
    }

    fn unary(&mut self) -> Out<(Node, Type)> {
        if self.word("not") {
            return match self.unary()? {
                (node, Type::Bool) => Ok((Node::Unary("not", Box::new(node)), Type::Bool)),
                _ => self.fail("NOT of a BOOL"),
            };
        }
        if self.sign("-") {
            return match self.unary()? {
                (node, of @ (Type::Int | Type::Real)) => Ok((Node::Unary("-", Box::new(node)), of)),
                _ => self.fail("minus of a number"),
            };
        }
        self.primary()
    }

    fn primary(&mut self) -> Out<(Node, Type)> {
        if self.sign("(") {
            let inner = self.expression()?;
            self.expect(")")?;
            return Ok(inner);
        }
        match self.tokens.get(self.at).map(|t| t.0.clone()) {
            Some(Token::Integer(k)) => {
                self.at += 1;
                return Ok((Node::Constant(Scalar::Int(k)), Type::Int));
            }
            Some(Token::Real(x)) => {
                self.at += 1;
                return Ok((Node::Constant(Scalar::Real(x)), Type::Real));
            }
            _ => {}
        }
        for (word, value) in [("true", true), ("false", false)] {
            if self.word(word) {
                return Ok((Node::Constant(Scalar::Bool(value)), Type::Bool));
            }
        }
        match self.tokens.get(self.at + 1) {
            Some((Token::Sign("#"), _)) => {
                let name = self.name()?;
                self.expect("#")?;
                let value = self.name()?;
                let Some(Type::Enum(k)) = self.unit.names.get(&name).cloned() else {
                    return self.fail(format!("no enumeration `{name}`"));
                };
                match self.unit.enums[k].iter().position(|v| *v == value) {
                    Some(v) => Ok((Node::Constant(Scalar::Enum(k, v)), Type::Enum(k))),
                    None => self.fail(format!("`{name}` has no `{value}`")),
                }
            }
            Some((Token::Sign("("), _)) => self.function(),
            _ => {
                // An enumerated value may stand without its type where no other enumeration has it.
                if let Some((Token::Word(name), _)) = self.tokens.get(self.at) {
                    let mut found =
                        self.unit.enums.iter().enumerate().filter_map(|(k, values)| {
                            Some((k, values.iter().position(|value| value == name)?))
                        });
                    match (found.next(), found.next()) {
                        (Some((k, v)), None) => {
                            self.at += 1;
                            return Ok((Node::Constant(Scalar::Enum(k, v)), Type::Enum(k)));
                        }
                        (Some(_), Some(_)) => {
                            return self.fail("a value of two enumerations without its type");
                        }
                        _ => {}
                    }
                }
                let (place, of, _) = self.place()?;
                Ok((Node::Read(place), of))
            }
        }
    }

    fn function(&mut self) -> Out<(Node, Type)> {
        let name = self.name()?;
        self.expect("(")?;
        let mut given = vec![self.expression()?];
        while self.sign(",") {
            given.push(self.expression()?);
        }
        self.expect(")")?;
        let types: Vec<Type> = given.iter().map(|g| g.1.clone()).collect();
        let nodes = given.into_iter().map(|g| g.0).collect();
        let number = |of: &Type| matches!(of, Type::Int | Type::Real);
        match (name.as_str(), types.as_slice()) {
            ("max", [a, b]) if a == b && number(a) => Ok((Node::Call("max", nodes), a.clone())),
            ("min", [a, b]) if a == b && number(a) => Ok((Node::Call("min", nodes), a.clone())),
            ("abs", [a]) if number(a) => Ok((Node::Call("abs", nodes), a.clone())),
            ("sel", [Type::Bool, a, b]) if a == b => Ok((Node::Call("sel", nodes), a.clone())),
            _ => self.fail(format!("no function {name} of {types:?}")),
        }
    }
}

/// A signed literal is a constant.
fn fold(node: Node) -> Node {
    match node {
        Node::Unary("-", inner) => match *inner {
            Node::Constant(Scalar::Real(x)) => Node::Constant(Scalar::Real(-x)),
            Node::Constant(Scalar::Int(k)) => Node::Constant(Scalar::Int(-k)),
            other => Node::Unary("-", Box::new(other)),
        },
        other => other,
    }
}
