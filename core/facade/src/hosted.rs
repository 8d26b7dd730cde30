//! A method of the station for UniFFI: what it borrows is owned. A command becomes an async one, handed to whoever owns
//! the station. A question becomes a plain one that answers here and now or not at all, and is called `…_if_free`: to begin
//! and end something async costs a host more than most questions do. The generator (`bindings/ffi`) makes async ones of
//! these in each language, under the name that the question has here.

use proc_macro2::TokenStream as Tokens;
use quote::{format_ident, quote};
use syn::{
    Attribute, Error, FnArg, GenericArgument, ImplItemFn, Pat, PathArguments, Type, ext::IdentExt as _,
    parse_quote, spanned::Spanned,
};

use crate::{owned, pass, returned};

pub(crate) fn method(owner: &Type, method: &ImplItemFn, asks: bool) -> syn::Result<Tokens> {
    let sig = &method.sig;
    let name = &sig.ident;
    let docs: Vec<&Attribute> =
        method.attrs.iter().filter(|attribute| attribute.path().is_ident("doc")).collect();
    let (mut takes, mut passed) = (Vec::new(), Vec::new());
    for input in &sig.inputs {
        let FnArg::Typed(input) = input else { continue };
        let Pat::Ident(pat) = &*input.pat else {
            return Err(Error::new(input.pat.span(), "an exported method names its arguments"));
        };
        let (ident, ty) = (&pat.ident, owned(&input.ty));
        takes.push(quote!(#ident: #ty));
        passed.push(pass(ident, &input.ty));
    }
    let (gives, fallible) = returned(&sig.output);
    let call = quote!(#owner::#name(station, #(#passed),*));
    let work = match to_own(&gives, if fallible { quote!(#call?) } else { call.clone() }) {
        Some(owned) => quote!(Ok(#owned)),
        None if fallible => call,
        None => quote!(Ok(#call)),
    };
    let gives = owned(&gives);
    let gives: Type = if gives == parse_quote!(Self) { owner.clone() } else { gives };
    let refused = quote!(crate::station::hosted::HostError);
    if name.to_string().ends_with("_if_free") {
        return Err(Error::new(name.span(), "`…_if_free` is for the questions that are made from these"));
    }
    let (head, body) = if asks {
        let name = format_ident!("{}_if_free", name.unraw());
        (quote!(pub fn #name), quote!(self.if_free(move |station: &mut #owner| #work)))
    } else {
        (quote!(pub async fn #name), quote!(self.command(move |station: &mut #owner| #work).await))
    };
    Ok(quote! {
        #(#docs)*
        #head(&self, #(#takes),*) -> Result<#gives, #refused> {
            #[allow(clippy::unit_arg, clippy::let_unit_value)]
            #body
        }
    })
}

/// What is given back borrowed, as a value of its own; none where it is one already.
fn to_own(gives: &Type, call: Tokens) -> Option<Tokens> {
    match gives {
        Type::Reference(_) => Some(quote!((#call).to_owned())),
        Type::Path(path) => {
            let last = path.path.segments.last().filter(|last| last.ident == "Option")?;
            let PathArguments::AngleBracketed(generics) = &last.arguments else { return None };
            let Some(GenericArgument::Type(Type::Reference(_))) = generics.args.first() else { return None };
            Some(quote!((#call).map(ToOwned::to_owned)))
        }
        _ => None,
    }
}
