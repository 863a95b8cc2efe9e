//! Shapes of which one is chosen by the JSON type of the value, and among objects by the first field.

use super::Schema;
use crate::wire::json::Node;

impl Schema {
    /// Returns the shape that a value should have; `None` if it has the JSON type of none.
    pub(super) fn of_its_type<'s>(shapes: &'s [Schema], node: &Node<'_>) -> Option<&'s Schema> {
        let mut taking = shapes.iter().filter(|shape| shape.takes(node));
        let first = taking.clone().next()?;
        Some(taking.find(|shape| shape.is_marked(node)).unwrap_or(first))
    }

    fn takes(&self, node: &Node<'_>) -> bool {
        match node {
            Node::Text(_) => matches!(self, Schema::Word(_) | Schema::Text(..) | Schema::Name(_) | Schema::Id),
            Node::Number(_) => matches!(self, Schema::Whole(..) | Schema::Real { .. }),
            Node::Object(_) => matches!(self, Schema::Object(_) | Schema::ByKind(_) | Schema::ByNumber { .. }),
            Node::Array(_) => matches!(self, Schema::Array(..)),
            _ => false,
        }
    }

    fn is_marked(&self, node: &Node<'_>) -> bool {
        match self {
            Schema::Object(fields) => fields.first().is_some_and(|field| node.get(field.name).is_some()),
            _ => true,
        }
    }
}
