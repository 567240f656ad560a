//! The canonical form of what is kept: one text for one content, so that a hash can be taken over it.
//!
//! 1. JSON with the keys of every object in the order of their code points, no blanks between.
//! 2. Numbers as the shortest decimal that reads back to the same double; texts in UTF-8 with only `"`, `\` and control characters escaped.
//!
//! It is written straight from the value: a tree of JSON in between takes four times as long, and a job is hashed at each change.

use serde::ser::{self, Serialize};

/// The canonical form of `value`; empty for what JSON can't hold (keys that are no texts), which nothing that is kept has.
pub fn canonical(value: &impl Serialize) -> String {
    let mut text = Text { bytes: Vec::with_capacity(512) };
    match value.serialize(&mut text) {
        Ok(()) => String::from_utf8(text.bytes).unwrap_or_default(),
        Err(NoText) => String::new(),
    }
}

/// What stands so far.
struct Text {
    bytes: Vec<u8>,
}

impl Text {
    /// A text, a number, a flag or nothing, as JSON. Writing to memory does not fail.
    fn plain(&mut self, plain: &(impl Serialize + ?Sized)) -> Result<(), NoText> {
        serde_json::to_writer(&mut self.bytes, plain).map_err(|_| NoText)
    }
}

/// What can't be written as JSON.
#[derive(Debug)]
struct NoText;

impl std::fmt::Display for NoText {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("a key is no text")
    }
}

impl std::error::Error for NoText {}

impl ser::Error for NoText {
    fn custom<T: std::fmt::Display>(_: T) -> Self {
        Self
    }
}

/// Members of an object, written one behind the other and put in order at its end.
struct Members<'t> {
    text: &'t mut Text,
    /// Where the first begins, behind the brace.
    start: usize,
    /// Key, and where the member begins and ends with its key.
    known: Vec<(String, usize, usize)>,
    /// Objects that end with this one: the name of a variant stands around its members.
    around: usize,
}

impl<'t> Members<'t> {
    fn of(text: &'t mut Text, fields: usize, around: usize) -> Self {
        text.bytes.push(b'{');
        let start = text.bytes.len();
        Self { text, start, known: Vec::with_capacity(fields), around }
    }

    fn add(&mut self, key: String, value: &(impl Serialize + ?Sized)) -> Result<(), NoText> {
        let begin = self.text.bytes.len();
        self.text.plain(&key)?;
        self.text.bytes.push(b':');
        value.serialize(&mut *self.text)?;
        self.known.push((key, begin, self.text.bytes.len()));
        Ok(())
    }

    fn close(mut self) {
        // The order of the bytes of UTF-8 is that of the code points.
        self.known.sort_by(|one, other| one.0.cmp(&other.0));
        let bytes = &mut self.text.bytes;
        let mut ordered = Vec::with_capacity(bytes.len() - self.start + self.known.len());
        for (i, (_, begin, end)) in self.known.iter().enumerate() {
            if i > 0 {
                ordered.push(b',');
            }
            ordered.extend_from_slice(bytes.get(*begin..*end).unwrap_or_default());
        }
        bytes.truncate(self.start);
        bytes.append(&mut ordered);
        bytes.extend(std::iter::repeat_n(b'}', self.around + 1));
    }
}

/// Items of a list.
struct Items<'t> {
    text: &'t mut Text,
    first: bool,
    around: usize,
}

impl<'t> Items<'t> {
    fn of(text: &'t mut Text, around: usize) -> Self {
        text.bytes.push(b'[');
        Self { text, first: true, around }
    }

    fn add(&mut self, value: &(impl Serialize + ?Sized)) -> Result<(), NoText> {
        if !std::mem::replace(&mut self.first, false) {
            self.text.bytes.push(b',');
        }
        value.serialize(&mut *self.text)
    }

    fn close(self) {
        self.text.bytes.push(b']');
        self.text.bytes.extend(std::iter::repeat_n(b'}', self.around));
    }
}

macro_rules! plain {
    ($($name:ident: $of:ty),*) => {
        $(fn $name(self, value: $of) -> Result<(), NoText> {
            self.plain(&value)
        })*
    };
}

impl<'t> ser::Serializer for &'t mut Text {
    type Ok = ();
    type Error = NoText;
    type SerializeSeq = Items<'t>;
    type SerializeTuple = Items<'t>;
    type SerializeTupleStruct = Items<'t>;
    type SerializeTupleVariant = Items<'t>;
    type SerializeMap = Pairs<'t>;
    type SerializeStruct = Members<'t>;
    type SerializeStructVariant = Members<'t>;

    plain! {
        serialize_bool: bool, serialize_i8: i8, serialize_i16: i16, serialize_i32: i32, serialize_i64: i64, serialize_u8: u8,
        serialize_u16: u16, serialize_u32: u32, serialize_u64: u64, serialize_f32: f32, serialize_f64: f64, serialize_char: char,
        serialize_str: &str, serialize_bytes: &[u8]
    }

    fn serialize_none(self) -> Result<(), NoText> {
        self.plain(&())
    }

    fn serialize_some<T: Serialize + ?Sized>(self, value: &T) -> Result<(), NoText> {
        value.serialize(self)
    }

    fn serialize_unit(self) -> Result<(), NoText> {
        self.plain(&())
    }

    fn serialize_unit_struct(self, _: &'static str) -> Result<(), NoText> {
        self.plain(&())
    }

    fn serialize_unit_variant(self, _: &'static str, _: u32, variant: &'static str) -> Result<(), NoText> {
        self.plain(variant)
    }

    fn serialize_newtype_struct<T: Serialize + ?Sized>(self, _: &'static str, value: &T) -> Result<(), NoText> {
        value.serialize(self)
    }

    fn serialize_newtype_variant<T: Serialize + ?Sized>(
        self,
        _: &'static str,
        _: u32,
        variant: &'static str,
        value: &T,
    ) -> Result<(), NoText> {
        let mut members = Members::of(self, 1, 0);
        members.add(variant.into(), value)?;
        members.close();
        Ok(())
    }

    fn serialize_seq(self, _: Option<usize>) -> Result<Items<'t>, NoText> {
        Ok(Items::of(self, 0))
    }

    fn serialize_tuple(self, _: usize) -> Result<Items<'t>, NoText> {
        Ok(Items::of(self, 0))
    }

    fn serialize_tuple_struct(self, _: &'static str, _: usize) -> Result<Items<'t>, NoText> {
        Ok(Items::of(self, 0))
    }

    fn serialize_tuple_variant(self, _: &'static str, _: u32, variant: &'static str, _: usize) -> Result<Items<'t>, NoText> {
        self.bytes.push(b'{');
        self.plain(variant)?;
        self.bytes.push(b':');
        Ok(Items::of(self, 1))
    }

    fn serialize_map(self, fields: Option<usize>) -> Result<Pairs<'t>, NoText> {
        Ok(Pairs { members: Members::of(self, fields.unwrap_or(0), 0), key: None })
    }

    fn serialize_struct(self, _: &'static str, fields: usize) -> Result<Members<'t>, NoText> {
        Ok(Members::of(self, fields, 0))
    }

    fn serialize_struct_variant(self, _: &'static str, _: u32, variant: &'static str, fields: usize) -> Result<Members<'t>, NoText> {
        self.bytes.push(b'{');
        self.plain(variant)?;
        self.bytes.push(b':');
        Ok(Members::of(self, fields, 1))
    }
}

macro_rules! items {
    ($($of:ident: $add:ident),*) => {
        $(impl ser::$of for Items<'_> {
            type Ok = ();
            type Error = NoText;

            fn $add<T: Serialize + ?Sized>(&mut self, value: &T) -> Result<(), NoText> {
                self.add(value)
            }

            fn end(self) -> Result<(), NoText> {
                self.close();
                Ok(())
            }
        })*
    };
}

items! { SerializeSeq: serialize_element, SerializeTuple: serialize_element, SerializeTupleStruct: serialize_field, SerializeTupleVariant: serialize_field }

macro_rules! members {
    ($($of:ident),*) => {
        $(impl ser::$of for Members<'_> {
            type Ok = ();
            type Error = NoText;

            fn serialize_field<T: Serialize + ?Sized>(&mut self, key: &'static str, value: &T) -> Result<(), NoText> {
                self.add(key.into(), value)
            }

            fn end(self) -> Result<(), NoText> {
                self.close();
                Ok(())
            }
        })*
    };
}

members! { SerializeStruct, SerializeStructVariant }

/// Members whose keys come one by one.
struct Pairs<'t> {
    members: Members<'t>,
    /// The key of the member that comes next.
    key: Option<String>,
}

impl ser::SerializeMap for Pairs<'_> {
    type Ok = ();
    type Error = NoText;

    fn serialize_key<T: Serialize + ?Sized>(&mut self, key: &T) -> Result<(), NoText> {
        match serde_json::to_value(key) {
            Ok(serde_json::Value::String(key)) => self.key = Some(key),
            _ => return Err(NoText),
        }
        Ok(())
    }

    fn serialize_value<T: Serialize + ?Sized>(&mut self, value: &T) -> Result<(), NoText> {
        let key = self.key.take().ok_or(NoText)?;
        self.members.add(key, value)
    }

    fn end(self) -> Result<(), NoText> {
        self.members.close();
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use serde_json::Value;

    /// The same by way of a tree, as the form is defined.
    fn by_tree(value: &Value) -> String {
        match value {
            Value::Object(map) => {
                let mut members: Vec<_> = map.iter().collect();
                members.sort_by(|one, other| one.0.chars().cmp(other.0.chars()));
                let members: Vec<String> =
                    members.into_iter().map(|(key, member)| format!("{}:{}", Value::from(key.as_str()), by_tree(member))).collect();
                format!("{{{}}}", members.join(","))
            }
            Value::Array(items) => format!("[{}]", items.iter().map(by_tree).collect::<Vec<_>>().join(",")),
            plain => plain.to_string(),
        }
    }

    fn json() -> impl Strategy<Value = Value> {
        let leaf = prop_oneof![
            Just(Value::Null),
            any::<bool>().prop_map(Value::from),
            any::<f64>().prop_map(Value::from),
            any::<i64>().prop_map(Value::from),
            any::<String>().prop_map(Value::from),
        ];
        leaf.prop_recursive(4, 40, 6, |inner| {
            prop_oneof![
                proptest::collection::vec(inner.clone(), 0..6).prop_map(Value::from),
                proptest::collection::btree_map(any::<String>(), inner, 0..6)
                    .prop_map(|map| Value::Object(map.into_iter().rev().collect())),
            ]
        })
    }

    #[derive(serde::Serialize)]
    #[serde(rename_all = "snake_case")]
    enum Any {
        Bare,
        One(f64),
        Two(u8, Option<bool>),
        Named { z: i8, a: Vec<Any>, m: Option<char> },
    }

    #[derive(serde::Serialize)]
    #[serde(tag = "kind")]
    enum Tagged {
        Zed { b: u64, a: std::collections::BTreeMap<String, (f32, ())> },
    }

    proptest! {
        #[test]
        fn what_is_written_at_once_is_what_the_tree_gives(value in json()) {
            prop_assert_eq!(canonical(&value), by_tree(&value));
        }
    }

    #[test]
    fn every_shape_of_a_value_is_written_as_the_tree_gives_it() {
        let named = Any::Named { z: -3, a: vec![Any::Bare, Any::One(0.1), Any::One(f64::NAN), Any::Two(7, None)], m: Some('"') };
        let map = [("é".to_owned(), (1.5, ())), ("b\n".to_owned(), (2.0, ()))].into_iter().collect();
        let tagged = Tagged::Zed { b: u64::MAX, a: map };
        assert_eq!(canonical(&named), by_tree(&serde_json::to_value(&named).unwrap()));
        assert_eq!(canonical(&tagged), by_tree(&serde_json::to_value(&tagged).unwrap()));
        assert_eq!(canonical(&named), r#"{"named":{"a":["bare",{"one":0.1},{"one":null},{"two":[7,null]}],"m":"\"","z":-3}}"#);
        assert_eq!(canonical(&std::collections::BTreeMap::from([((1, 2), 3)])), "");
    }

    #[test]
    fn the_entries_of_a_demo_are_written_as_the_tree_gives_them() {
        let demo = include_bytes!("../../../demo/ferry_ramp_winch.toml");
        for entry in crate::open("a.toml", demo).unwrap().0 {
            assert_eq!(canonical(&entry), by_tree(&serde_json::to_value(&entry).unwrap()));
        }
    }
}
