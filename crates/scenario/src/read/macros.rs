//! `block!` and `choice!`: a part of the format, declared once.

/// Declares a block of named fields: `name: Type = rule`, each with its meaning.
#[doc(hidden)]
#[macro_export]
macro_rules! block {
    (
        $(#[doc = $doc:literal])+
        $(#[leading($leading:ident)])?
        pub struct $name:ident {
            $( $(#[doc = $meaning:literal])+ $field:ident: $kind:ty = $rule:expr ),+ $(,)?
        }
    ) => {
        $(#[doc = $doc])+
        #[derive(Clone, Debug, PartialEq, serde::Serialize)]
        pub struct $name {
            $(
                $(#[doc = $meaning])+
                #[serde(skip_serializing_if = "tidewright_scenario::read::is_absent")]
                pub $field: $kind,
            )+
        }

        impl $name {
            pub(crate) const SHAPE: $crate::read::BlockShape = $crate::read::BlockShape {
                name: stringify!($name),
                meaning: concat!($($doc, "\n"),+),
                leading: [$(Some(stringify!($leading)),)? None][0],
                fields: &[$(
                    $crate::read::FieldShape {
                        name: stringify!($field),
                        meaning: concat!($($meaning),+),
                        rule: $rule,
                        describe: <$kind as $crate::read::Read>::describe,
                    },
                )+],
            };
        }

        impl $crate::read::Read for $name {
            fn describe(_: &str, _: &$crate::read::Rule) -> $crate::read::Shape {
                $crate::read::Shape::Block(&Self::SHAPE)
            }

            fn read(
                node: &$crate::text::Node,
                field: &str,
                _: &$crate::read::Rule,
                reader: &mut $crate::read::Reader<'_>,
            ) -> Option<Self> {
                $crate::read::read_block(node, field, &Self::SHAPE, reader, |fields| {
                    $( let $field = fields.take(stringify!($field), &$rule); )+
                    Some(Self { $( $field: $field?, )+ })
                })
            }

            fn absent(rule: &$crate::read::Rule) -> Option<Self> {
                $crate::read::read_absent(rule)
            }
        }
    };
}

/// Declares a choice between words, some followed by a value in brackets, some with the
/// word that older files have for them, and after `or` the form that is written without a
/// word.
#[doc(hidden)]
#[macro_export]
macro_rules! choice {
    (
        $(#[doc = $doc:literal])+
        $(#[derive($($derive:ident),+)])?
        pub enum $name:ident {
            $( $(#[doc = $meaning:literal])+ $word:ident $(($payload:ty))? $(formerly $old:ident)? ),+ $(,)?
        }
        $( or { $(#[doc = $plain_meaning:literal])+ $plain:ident($plain_type:ty) } )?
    ) => {
        $(#[doc = $doc])+
        #[derive(Clone, Debug, PartialEq, serde::Serialize $($(, $derive)+)?)]
        pub enum $name {
            $( $(#[doc = $meaning])+ $word $(($payload))?, )+
            $( $(#[doc = $plain_meaning])+ #[serde(untagged)] $plain($plain_type), )?
        }

        impl $name {
            pub(crate) const SHAPE: $crate::read::ChoiceShape = $crate::read::ChoiceShape {
                name: stringify!($name),
                meaning: concat!($($doc, "\n"),+),
                words: &[$(
                    $crate::read::WordShape {
                        name: stringify!($word),
                        meaning: concat!($($meaning),+),
                        payload: [
                            $(Some(<$payload as $crate::read::Read>::describe as $crate::read::Describe),)?
                            None,
                        ][0],
                        formerly: [$(Some(stringify!($old)),)? None][0],
                    },
                )+],
                plain: {
                    let _plain: Option<$crate::read::WordShape> = None;
                    $( let _plain = Some($crate::read::WordShape {
                        name: stringify!($plain),
                        meaning: concat!($($plain_meaning),+),
                        payload: Some(<$plain_type as $crate::read::Read>::describe),
                        formerly: None,
                    }); )?
                    _plain
                },
            };
        }

        impl $crate::read::Read for $name {
            fn describe(_: &str, _: &$crate::read::Rule) -> $crate::read::Shape {
                $crate::read::Shape::Choice(&Self::SHAPE)
            }

            fn read(
                node: &$crate::text::Node,
                field: &str,
                _: &$crate::read::Rule,
                reader: &mut $crate::read::Reader<'_>,
            ) -> Option<Self> {
                use $crate::read::Picked;
                match $crate::read::pick(node, field, &Self::SHAPE, reader)? {
                    $( Picked::Word(stringify!($word), _payload) => Some(
                        Self::$word $((<$payload as $crate::read::Read>::read(
                            _payload.unwrap_or(&$crate::read::nothing_written(node)),
                            stringify!($word), &$crate::read::any(), reader,
                        )?))?
                    ), )+
                    $( Picked::Plain => {
                        <$plain_type as $crate::read::Read>::read(
                            node, field, &$crate::read::any(), reader,
                        )
                            .map(Self::$plain)
                    } )?
                    _ => None,
                }
            }

            fn absent(rule: &$crate::read::Rule) -> Option<Self> {
                $crate::read::read_absent(rule)
            }
        }
    };
}

pub use {block, choice};
