//! Maps that keep their order, and doses as the decimals they are.

use serde::ser::{Serialize, SerializeMap, Serializer};

use crate::units::Ppt;

/// A map that serialises in the order of its entries. Keys are unique.
#[derive(Clone, Debug, PartialEq)]
pub struct Ordered<V>(pub Vec<(String, V)>);

impl<V> Default for Ordered<V> {
    fn default() -> Self {
        Ordered(Vec::new())
    }
}

impl<V> FromIterator<(String, V)> for Ordered<V> {
    fn from_iter<I: IntoIterator<Item = (String, V)>>(entries: I) -> Self {
        Ordered(entries.into_iter().collect())
    }
}

impl<V: Serialize> Serialize for Ordered<V> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(Some(self.0.len()))?;
        for (key, value) in &self.0 {
            map.serialize_entry(key, value)?;
        }
        map.end()
    }
}

/// The decimal a person would write: 412, not 412.0; 0.6, not 0.6000001.
impl Serialize for Ppt {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let units = self.units();
        if units % Ppt::UNITS == 0 {
            serializer.serialize_i64(units / Ppt::UNITS)
        } else {
            serializer.serialize_f64(self.as_f64())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn order_and_decimals_are_kept() {
        let parts: Ordered<Ppt> = [("b", 412.0), ("a", 0.6), ("c", 0.123_456_789)]
            .map(|(n, p)| (n.to_owned(), Ppt::from_ppt(p)))
            .into_iter()
            .collect();
        assert_eq!(serde_json::to_string(&parts).unwrap(), r#"{"b":412,"a":0.6,"c":0.123456789}"#);
    }
}
