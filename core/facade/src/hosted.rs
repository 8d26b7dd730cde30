//! A method of the station as an async one for UniFFI: what it borrows is owned, and it is handed to whoever owns the
//! station.

use proc_macro2::TokenStream as Tokens;
use quote::quote;
use syn::{
    Attribute, Error, FnArg, GenericArgument, ImplItemFn, Pat, PathArguments, Type, parse_quote,
    spanned::Spanned,
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
    let how = if asks { quote!(ask) } else { quote!(command) };
    Ok(quote! {
        #(#docs)*
        pub async fn #name(&self, #(#takes),*) -> Result<#gives, crate::station::hosted::HostError> {
            #[allow(clippy::unit_arg, clippy::let_unit_value)]
            self.#how(move |station: &mut #owner| #work).await
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
