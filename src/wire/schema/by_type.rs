//! Shapes of which one is chosen by the JSON type of the value.

use super::Schema;
use crate::wire::json::Node;

impl Schema {
    /// Says whether a value has the JSON type of this shape.
    pub(super) fn takes(&self, node: &Node<'_>) -> bool {
        match node {
            Node::Text(_) => matches!(self, Schema::Word(_) | Schema::Text(..) | Schema::Name(_) | Schema::Id),
            Node::Number(_) => matches!(self, Schema::Whole(..) | Schema::Real { .. }),
            Node::Object(_) => matches!(self, Schema::Object(_) | Schema::ByKind(_)),
            Node::Array(_) => matches!(self, Schema::Array(..)),
            _ => false,
        }
    }
}
