//! The station's methods by name, with JSON in and out, for hosts that speak no Rust; and, for TypeScript, what each
//! takes and gives, with every type that they name. Made from the methods themselves by [`tailcomb_facade::exported`].

use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;

use super::{Station, StationError};
use crate::trade::Told;

#[cfg(not(target_family = "wasm"))]
pub use shape::{Shape, typescript};

/// Why a call by name failed.
#[derive(Debug, thiserror::Error)]
pub enum CallError {
    /// The station refused.
    #[error(transparent)]
    Station(#[from] StationError),
    /// The host does not know this version of the station.
    #[error("{0}")]
    Host(String),
}

impl CallError {
    /// For people.
    #[must_use]
    pub fn told(&self) -> Told {
        match self {
            Self::Station(error) => error.told(),
            Self::Host(why) => Told::written(why),
        }
    }

    /// A short stable name, for programs.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            Self::Station(error) => error.code(),
            Self::Host(_) => "host",
        }
    }
}

/// The arguments of a call, in order. One that is left out reads as null.
#[derive(Debug)]
pub struct Arguments(std::vec::IntoIter<Value>);

impl Arguments {
    /// The next one.
    ///
    /// # Errors
    /// [`CallError::Host`], naming the argument.
    pub fn next<T: DeserializeOwned>(&mut self, name: &str) -> Result<T, CallError> {
        serde_json::from_value(self.0.next().unwrap_or(Value::Null))
            .map_err(|e| CallError::Host(format!("{name}: {e}")))
    }
}

/// What a method gave, as JSON.
///
/// # Errors
/// [`CallError::Host`] for what JSON cannot hold.
pub fn written(result: &impl Serialize) -> Result<String, CallError> {
    serde_json::to_string(result).map_err(|e| CallError::Host(format!("the answer: {e}")))
}

/// A method.
#[derive(Debug)]
pub struct Method {
    /// As TypeScript writes it.
    pub name: &'static str,
    /// Calls it.
    pub call: fn(&mut Station, Arguments) -> Result<String, CallError>,
    /// Describes it.
    #[cfg(not(target_family = "wasm"))]
    pub shape: fn(&mut Shape),
}

/// All of them.
pub fn methods() -> impl Iterator<Item = &'static Method> {
    let blocks: &'static [&'static [Method]] = &[
        super::FACADE,
        super::briefing::FACADE,
        super::catalogue::FACADE,
        super::clients::FACADE,
        super::compare::FACADE,
        super::day::FACADE,
        super::erasure::FACADE,
        super::figures::FACADE,
        super::floor::FACADE,
        super::forecast::FACADE,
        super::formulas::FACADE,
        super::gloss::FACADE,
        super::hair::FACADE,
        super::hands::FACADE,
        super::head::FACADE,
        super::lookup::FACADE,
        super::mixing::FACADE,
        super::outcome::FACADE,
        super::page::FACADE,
        super::people::FACADE,
        super::photos::FACADE,
        super::plan::FACADE,
        super::portable::FACADE,
        super::questions::FACADE,
        super::reckon::FACADE,
        super::relay::FACADE,
        super::sheet::FACADE,
        super::shelf::FACADE,
        super::stops::FACADE,
        super::timers::FACADE,
        super::visit_close::FACADE,
        super::visits::FACADE,
    ];
    blocks.iter().copied().flatten()
}

/// Calls a method by its name; `arguments` is a JSON array.
///
/// # Errors
/// [`CallError`]: whatever the method refuses with, or that there is no such method.
pub fn call(station: &mut Station, name: &str, arguments: &str) -> Result<String, CallError> {
    let method = methods().find(|method| method.name == name);
    let method = method.ok_or_else(|| CallError::Host(format!("a station has no method called {name}")))?;
    let arguments: Vec<Value> = serde_json::from_str(arguments)
        .map_err(|e| CallError::Host(format!("the arguments of {name}: {e}")))?;
    (method.call)(station, Arguments(arguments.into_iter()))
}

/// The same for TypeScript.
#[cfg(not(target_family = "wasm"))]
mod shape {
    use std::any::TypeId;
    use std::collections::{BTreeMap, HashSet};
    use std::fmt::Write as _;

    use ts_rs::{Config, TS, TypeVisitor};

    /// Gathers what methods take and give.
    #[allow(missing_debug_implementations)]
    pub struct Shape {
        config: Config,
        methods: Vec<Described>,
        types: BTreeMap<String, (TypeId, String)>,
        twice: Vec<String>,
        seen: HashSet<TypeId>,
    }

    #[derive(Debug, Default)]
    struct Described {
        name: &'static str,
        docs: &'static str,
        takes: Vec<(&'static str, String)>,
        gives: String,
    }

    impl Shape {
        fn new() -> Self {
            // Every number of the record is an integer far below 2^53.
            let config = Config::new().with_large_int("number");
            let (methods, types) = (Vec::new(), BTreeMap::new());
            Self { config, methods, types, twice: Vec::new(), seen: HashSet::new() }
        }

        /// Begins the next method.
        pub fn method(&mut self, name: &'static str, docs: &'static str) {
            self.methods.push(Described { name, docs, ..Described::default() });
        }

        /// Its next argument.
        pub fn takes<T: TS + 'static>(&mut self, name: &'static str) {
            let shown = self.name::<T>();
            // A word that TypeScript keeps for itself.
            let name = if name == "new" { "made" } else { name };
            if let Some(method) = self.methods.last_mut() {
                method.takes.push((name, shown));
            }
        }

        /// What it gives.
        pub fn gives<T: TS + 'static>(&mut self) {
            let shown =
                if TypeId::of::<T>() == TypeId::of::<()>() { "void".to_owned() } else { self.name::<T>() };
            if let Some(method) = self.methods.last_mut() {
                method.gives = shown;
            }
        }

        /// Its name, with all that the name stands on.
        fn name<T: TS + 'static>(&mut self) -> String {
            self.visit::<T>();
            T::name(&self.config)
        }
    }

    impl TypeVisitor for Shape {
        fn visit<T: TS + 'static + ?Sized>(&mut self) {
            // A type may name itself on the way.
            if !self.seen.insert(TypeId::of::<T>()) {
                return;
            }
            // Types of the language itself have no declaration of their own, and may stand on some that have.
            if T::output_path().is_none() {
                T::visit_generics(self);
                T::visit_dependencies(self);
                return;
            }
            let name = T::ident(&self.config);
            let id = TypeId::of::<T::WithoutGenerics>();
            match self.types.get(&name) {
                Some((known, _)) if *known == id => {}
                Some(_) => self.twice.push(name),
                None => {
                    let docs = T::docs().unwrap_or_default();
                    self.types.insert(name, (id, format!("{docs}export {}", T::decl(&self.config))));
                    T::visit_dependencies(self);
                }
            }
            T::visit_generics(self);
        }
    }

    /// The whole façade as TypeScript, types first.
    ///
    /// # Errors
    /// Names that two types share: give one of them another by `#[ts(rename = "…")]`.
    pub fn typescript() -> Result<String, String> {
        let mut shape = Shape::new();
        for method in super::methods() {
            (method.shape)(&mut shape);
        }
        let methods = std::mem::take(&mut shape.methods);
        if !shape.twice.is_empty() {
            return Err(format!("two types are called: {}", shape.twice.join(", ")));
        }
        let mut text = String::from(
            "// Made from the Rust types by `make web`; change those.\n/* eslint-disable */\n\n\
             /** Any JSON. */\nexport type JsonValue = number | string | boolean | null | JsonValue[] | { [key: string]: JsonValue };\n\n",
        );
        for (name, (_, declaration)) in &shape.types {
            if name != "JsonValue" {
                let _ = writeln!(text, "{declaration}\n");
            }
        }
        text.push_str("/** A station's methods. Each is durable when it returns, or has thrown a `StationError`. */\nexport interface StationMethods {\n");
        for method in &methods {
            if !method.docs.is_empty() {
                let _ = writeln!(text, "  /** {} */", method.docs.replace('\n', "\n   * ").replace("*/", ""));
            }
            let mut takes: Vec<String> = Vec::new();
            // What may be null at the end may be left out.
            let optional = method.takes.iter().rev().take_while(|(_, ty)| ty.ends_with("| null")).count();
            for (i, (name, ty)) in method.takes.iter().enumerate() {
                let mark = if i + optional >= method.takes.len() { "?" } else { "" };
                takes.push(format!("{name}{mark}: {ty}"));
            }
            let _ = writeln!(text, "  {}({}): {};", method.name, takes.join(", "), method.gives);
        }
        text.push_str("}\n");
        Ok(text)
    }
}
