//! What UniFFI has no words for, under names of its own: each use of a generic type becomes a record, and so does a
//! tuple. The record is made from the very fields that Rust declares, so nothing is written twice.

use proc_macro2::TokenStream as Tokens;
use quote::{format_ident, quote};
use syn::parse::{Parse, ParseStream};
use syn::punctuated::Punctuated;
use syn::visit_mut::{self, VisitMut};
use syn::{
    Attribute, Error, Field, Fields, GenericParam, Ident, ItemStruct, Token, TypePath, spanned::Spanned,
};

/// The types that a generic one is used with.
pub(crate) struct Uses(Punctuated<Use, Token![,]>);

/// `Slot`, or `String as Text` where another name says more.
struct Use {
    path: TypePath,
    called: Ident,
}

impl Parse for Uses {
    fn parse(input: ParseStream<'_>) -> syn::Result<Self> {
        Ok(Self(input.parse_terminated(Use::parse, Token![,])?))
    }
}

impl Parse for Use {
    fn parse(input: ParseStream<'_>) -> syn::Result<Self> {
        let path: TypePath = input.parse()?;
        let last = path.path.segments.last().map(|last| last.ident.clone());
        let called = if input.parse::<Option<Token![as]>>()?.is_some() { Some(input.parse()?) } else { last };
        let called = called.ok_or_else(|| Error::new(path.span(), "a type by its name"))?;
        Ok(Self { path, called })
    }
}

/// A record for each use of `item`: `Register<Slot>` goes over as `SlotRegister`.
pub(crate) fn each(uses: &Uses, item: &ItemStruct) -> syn::Result<Tokens> {
    let mut parameters = item.generics.params.iter();
    let (Some(GenericParam::Type(parameter)), None) = (parameters.next(), parameters.next()) else {
        return Err(Error::new(item.ident.span(), "a struct with one type parameter is carried so"));
    };
    let Fields::Named(fields) = &item.fields else {
        return Err(Error::new(item.fields.span(), "a record has named fields"));
    };
    let generic = &item.ident;
    let docs = docs(&item.attrs);
    let made = uses.0.iter().map(|Use { path, called }| {
        let record = format_ident!("{called}{generic}");
        let mut fields = fields.clone();
        Filled { parameter: &parameter.ident, with: path }.visit_fields_named_mut(&mut fields);
        let names: Vec<&Ident> = fields.named.iter().filter_map(|field| field.ident.as_ref()).collect();
        let shown = fields.named.iter().map(|field| {
            let (docs, name, ty) = (self::docs(&field.attrs), &field.ident, &field.ty);
            quote!(#(#docs)* #name: #ty)
        });
        let conversions = conversions(
            &quote!(#generic<#path>),
            &record,
            &quote!(#record { #(#names: obj.#names),* }),
            &quote!(Ok(#generic { #(#names: record.#names),* })),
        );
        quote! {
            const _: () = {
                #(#docs)*
                #[derive(uniffi::Record)]
                struct #record { #(#shown),* }
                #conversions
            };
        }
    });
    Ok(quote!(#[cfg(feature = "ffi")] const _: () = { #(#made)* };))
}

/// A tuple under a name, with names for its places: a struct without a body is no more than that.
pub(crate) fn tuple(item: &ItemStruct) -> syn::Result<Tokens> {
    let Fields::Named(fields) = &item.fields else {
        return Err(Error::new(item.fields.span(), "name the places"));
    };
    let record = &item.ident;
    let names: Vec<&Ident> = fields.named.iter().filter_map(|field| field.ident.as_ref()).collect();
    let types = fields.named.iter().map(|field| &field.ty);
    let conversions = conversions(
        &quote!((#(#types),*)),
        record,
        &quote!({ let (#(#names),*) = obj; #record { #(#names),* } }),
        &quote!(Ok((#(record.#names),*))),
    );
    Ok(quote! {
        const _: () = {
            #[derive(uniffi::Record)]
            #item
            #conversions
        };
    })
}

/// A record that is only given, without some of its fields.
pub(crate) fn without(hidden: &[Ident], item: &ItemStruct) -> syn::Result<Tokens> {
    let Fields::Named(fields) = &item.fields else {
        return Err(Error::new(item.fields.span(), "a record has named fields"));
    };
    let is_hidden = |field: &&Field| field.ident.as_ref().is_some_and(|name| hidden.contains(name));
    if fields.named.iter().filter(is_hidden).count() != hidden.len() {
        return Err(Error::new(item.ident.span(), "there is no such field to leave out"));
    }
    let given = &item.ident;
    let (called, record) = (given.to_string(), format_ident!("{given}Given"));
    let docs = docs(&item.attrs);
    let fields: Vec<&Field> = fields.named.iter().filter(|field| !is_hidden(field)).collect();
    let names: Vec<&Ident> = fields.iter().filter_map(|field| field.ident.as_ref()).collect();
    let shown = fields.iter().map(|field| {
        let (docs, name, ty) = (self::docs(&field.attrs), &field.ident, &field.ty);
        quote!(#(#docs)* #name: #ty)
    });
    let conversions = conversions(
        &quote!(#given),
        &record,
        &quote!(#record { #(#names: obj.#names),* }),
        &quote!({
            let #record { #(#names: _),* } = record;
            Err(uniffi::deps::anyhow::anyhow!("the station gives this, nobody gives it to the station"))
        }),
    );
    Ok(quote! {
        const _: () = {
            #(#docs)*
            #[derive(uniffi::Record)]
            #[uniffi(name = #called)]
            struct #record { #(#shown),* }
            #conversions
        };
    })
}

/// `carried` goes over as `record` does.
fn conversions(carried: &Tokens, record: &Ident, into: &Tokens, from: &Tokens) -> Tokens {
    let (lower, lift) = (
        quote!(<#record as uniffi::Lower<crate::UniFfiTag>>),
        quote!(<#record as uniffi::Lift<crate::UniFfiTag>>),
    );
    quote! {
        unsafe impl uniffi::FfiConverter<crate::UniFfiTag> for #carried {
            type FfiType = uniffi::RustBuffer;
            fn lower(obj: Self) -> uniffi::RustBuffer {
                #lower::lower(#into)
            }
            fn try_lift(buffer: uniffi::RustBuffer) -> uniffi::Result<Self> {
                let record = #lift::try_lift(buffer)?;
                #from
            }
            fn write(obj: Self, buffer: &mut Vec<u8>) {
                #lower::write(#into, buffer);
            }
            fn try_read(buffer: &mut &[u8]) -> uniffi::Result<Self> {
                let record = #lift::try_read(buffer)?;
                #from
            }
            const TYPE_ID_META: uniffi::MetadataBuffer =
                <#record as uniffi::TypeId<crate::UniFfiTag>>::TYPE_ID_META;
        }
        uniffi::derive_ffi_traits!(local #carried);
    }
}

/// Puts a type in the place of a parameter.
struct Filled<'a> {
    parameter: &'a Ident,
    with: &'a TypePath,
}

impl VisitMut for Filled<'_> {
    fn visit_type_path_mut(&mut self, path: &mut TypePath) {
        if path.path.is_ident(self.parameter) {
            *path = self.with.clone();
        } else {
            visit_mut::visit_type_path_mut(self, path);
        }
    }
}

fn docs(attributes: &[Attribute]) -> Vec<&Attribute> {
    attributes.iter().filter(|attribute| attribute.path().is_ident("doc")).collect()
}
