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
    let call = if fallible { quote!(#call?) } else { call };
    let call = to_own(&gives, &call);
    let gives = owned(&gives);
    let gives: Type = if gives == parse_quote!(Self) { owner.clone() } else { gives };
    let how = if asks { quote!(ask) } else { quote!(command) };
    Ok(quote! {
        #(#docs)*
        pub async fn #name(&self, #(#takes),*) -> Result<#gives, crate::station::hosted::HostError> {
            #[allow(clippy::unit_arg, clippy::let_unit_value)]
            self.#how(move |station: &mut #owner| Ok(#call)).await
        }
    })
}

/// What is given back borrowed, as a value of its own.
fn to_own(gives: &Type, call: &Tokens) -> Tokens {
    match gives {
        Type::Reference(_) => quote!((#call).to_owned()),
        Type::Path(path) => {
            let Some(last) = path.path.segments.last().filter(|last| last.ident == "Option") else {
                return call.clone();
            };
            let PathArguments::AngleBracketed(generics) = &last.arguments else { return call.clone() };
            match generics.args.first() {
                Some(GenericArgument::Type(Type::Reference(_))) => quote!((#call).map(ToOwned::to_owned)),
                _ => call.clone(),
            }
        }
        _ => call.clone(),
    }
}
