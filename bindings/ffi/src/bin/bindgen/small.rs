//! What of the library's types is small enough to be read where it stands, and what ends so that more can be read with it.

use uniffi_meta::Type;

use crate::fixed::{Place, code};
use crate::reading::{Shape, Shapes};

/// So many values are read where they stand, instead of by a call.
pub(crate) const SMALL: usize = 6;

/// What the library wraps, since Python sees the inside alone.
pub(crate) fn inside(mut ty: &Type) -> &Type {
    loop {
        ty = match ty {
            Type::Custom { builtin, .. } if !matches!(**builtin, Type::Map { .. }) => builtin,
            Type::Box { inner_type } => inner_type,
            _ => return ty,
        };
    }
}

impl Shapes<'_> {
    pub(crate) fn shape(&self, ty: &Type) -> Option<&Shape<'_>> {
        match ty {
            Type::Record { module_path, name } | Type::Enum { module_path, name } => {
                self.get(module_path, name)
            }
            _ => None,
        }
    }

    /// How many values are read for one.
    fn weight(&self, ty: &Type) -> usize {
        match inside(ty) {
            Type::Optional { inner_type } | Type::Sequence { inner_type } => 1 + self.weight(inner_type),
            _ => 1,
        }
    }

    /// A record or cases that hold little.
    pub(crate) fn is_small(&self, ty: &Type) -> bool {
        let weight: usize = match self.shape(ty) {
            Some(Shape::Record(_, fields)) => fields.iter().map(|(_, ty)| self.weight(ty)).sum(),
            Some(Shape::Cases(cases)) => {
                cases.iter().map(|(_, types)| 1 + types.iter().map(|ty| self.weight(ty)).sum::<usize>()).sum()
            }
            _ => return false,
        };
        weight <= SMALL
    }

    pub(crate) fn is_fixed(&self, ty: &Type) -> bool {
        code(ty).is_some() || matches!(self.shape(ty), Some(Shape::Names))
    }

    /// Whether what is read last of a value is fixed, so that it is read with what follows.
    pub(crate) fn ends_fixed(&self, ty: &Type, place: Place) -> bool {
        let ty = inside(ty);
        match self.shape(ty) {
            Some(Shape::Record(_, fields)) if place != Place::Within && self.is_small(ty) => {
                fields.last().is_some_and(|(_, last)| self.ends_fixed(last, Place::Within))
            }
            _ => self.is_fixed(ty),
        }
    }
}
