//! One line on an impl block, and its public methods can be called by name with JSON, and are described for TypeScript
//! with the types and the words that Rust has for them. So a host that speaks no Rust gets every method that is written
//! from now on, and nobody keeps a second list.
//!
//! ```text
//! #[cfg_attr(feature = "web", tailcomb_facade::exported(except(act)))]
//! impl Station { … }
//! ```
//!
//! makes `FACADE` beside the block: a list of `crate::station::facade::Method`.

use proc_macro::TokenStream;
use proc_macro2::TokenStream as Tokens;
use quote::quote;
use syn::spanned::Spanned;
use syn::{
    Attribute, Error, Expr, FnArg, GenericArgument, Ident, ImplItem, ImplItemFn, ItemImpl, Lit, Meta, Pat,
    PathArguments, Receiver, ReturnType, Type, TypePath, parse_macro_input, parse_quote,
};

/// See the crate. `except(a, b)` leaves methods out that mean nothing outside Rust (closures, borrowed documents).
#[proc_macro_attribute]
pub fn exported(arguments: TokenStream, item: TokenStream) -> TokenStream {
    let except = parse_macro_input!(arguments as Except);
    let block = parse_macro_input!(item as ItemImpl);
    let made = export(&except.0, &block).unwrap_or_else(Error::into_compile_error);
    quote!(#block #made).into()
}

struct Except(Vec<Ident>);

impl syn::parse::Parse for Except {
    fn parse(input: syn::parse::ParseStream<'_>) -> syn::Result<Self> {
        if input.is_empty() {
            return Ok(Self(Vec::new()));
        }
        let word: Ident = input.parse()?;
        if word != "except" {
            return Err(Error::new(word.span(), "only `except(method, …)` can be said here"));
        }
        let names;
        syn::parenthesized!(names in input);
        let names = names.parse_terminated(<Ident as syn::ext::IdentExt>::parse_any, syn::Token![,])?;
        Ok(Self(names.into_iter().collect()))
    }
}

fn export(except: &[Ident], block: &ItemImpl) -> syn::Result<Tokens> {
    let owner = &block.self_ty;
    let mut methods = Vec::new();
    let mut unused: Vec<&Ident> = except.iter().collect();
    for item in &block.items {
        let ImplItem::Fn(method) = item else { continue };
        let name = &method.sig.ident;
        if except.contains(name) {
            unused.retain(|left_out| *left_out != name);
            continue;
        }
        let public = matches!(method.vis, syn::Visibility::Public(_));
        if public && method.sig.receiver().is_some() {
            methods.push(one(owner, method)?);
        }
    }
    if let Some(name) = unused.first() {
        return Err(Error::new(name.span(), "there is no such method to leave out"));
    }
    Ok(quote! {
        /// What of this block hosts call by name.
        pub(super) const FACADE: &[crate::station::facade::Method] = &[#(#methods),*];
    })
}

fn one(owner: &Type, method: &ImplItemFn) -> syn::Result<Tokens> {
    let sig = &method.sig;
    if let Some(generic) = sig.generics.type_params().next() {
        return Err(Error::new(generic.span(), "cannot be called by name: add it to `except(…)`"));
    }
    let name = &sig.ident;
    let called = camel(&name.to_string());
    let docs = docs(&method.attrs);
    let mut names = Vec::new();
    let mut types = Vec::new();
    let mut shown = Vec::new();
    let mut passed = Vec::new();
    for input in &sig.inputs {
        let FnArg::Typed(input) = input else { continue };
        let Pat::Ident(pat) = &*input.pat else {
            return Err(Error::new(input.pat.span(), "an exported method names its arguments"));
        };
        let ident = &pat.ident;
        let owned = owned(&input.ty);
        passed.push(pass(ident, &input.ty));
        shown.push(typescript(&owned));
        types.push(owned);
        names.push(ident);
    }
    let texts: Vec<String> = names.iter().map(|name| camel(&name.to_string())).collect();
    let (result, fallible) = returned(&sig.output);
    let result = typescript(&owned(&result));
    let call = if matches!(sig.receiver(), Some(Receiver { mutability: Some(_), .. })) {
        quote!(#owner::#name(station, #(#passed),*))
    } else {
        quote!(#owner::#name(&*station, #(#passed),*))
    };
    let call = if fallible { quote!(#call?) } else { call };
    Ok(quote! {
        crate::station::facade::Method {
            name: #called,
            call: |station, arguments| {
                #[allow(unused_mut, unused_variables)]
                let mut arguments = arguments;
                #(let #names: #types = arguments.next(#texts)?;)*
                #[allow(clippy::unit_arg, clippy::let_unit_value)]
                let result = #call;
                crate::station::facade::written(&result)
            },
            #[cfg(not(target_family = "wasm"))]
            shape: |shape| {
                shape.method(#called, #docs);
                #(shape.takes::<#shown>(#texts);)*
                shape.gives::<#result>();
            },
        }
    })
}

/// What a method gives, and whether it can fail.
fn returned(output: &ReturnType) -> (Type, bool) {
    let ReturnType::Type(_, ty) = output else { return (parse_quote!(()), false) };
    if let Type::Path(path) = &**ty
        && let Some(last) = path.path.segments.last()
        && last.ident == "Result"
        && let PathArguments::AngleBracketed(generics) = &last.arguments
        && let Some(GenericArgument::Type(ok)) = generics.args.first()
    {
        return (ok.clone(), true);
    }
    ((**ty).clone(), false)
}

/// A named type with each type between its angle brackets changed.
fn each_inner(path: &TypePath, change: impl Fn(&Type) -> Type) -> Type {
    let mut path = path.clone();
    for segment in &mut path.path.segments {
        if let PathArguments::AngleBracketed(generics) = &mut segment.arguments {
            for argument in &mut generics.args {
                if let GenericArgument::Type(inner) = argument {
                    *inner = change(inner);
                }
            }
        }
    }
    Type::Path(path)
}

/// The type that is read from JSON for an argument of a borrowed one.
fn owned(ty: &Type) -> Type {
    match ty {
        Type::Reference(reference) => match &*reference.elem {
            Type::Slice(slice) => {
                let elem = owned(&slice.elem);
                parse_quote!(Vec<#elem>)
            }
            Type::Path(path) if path.path.is_ident("str") => parse_quote!(String),
            other => owned(other),
        },
        Type::Tuple(tuple) => {
            let elems = tuple.elems.iter().map(owned);
            if tuple.elems.is_empty() { parse_quote!(()) } else { parse_quote!((#(#elems,)*)) }
        }
        Type::Path(path) => each_inner(path, owned),
        other => other.clone(),
    }
}

/// The type that TypeScript is told of: as it is, but for a few that other crates write as text.
fn typescript(ty: &Type) -> Type {
    match ty {
        Type::Tuple(tuple) if !tuple.elems.is_empty() => {
            let elems = tuple.elems.iter().map(typescript);
            parse_quote!((#(#elems,)*))
        }
        Type::Path(path) if path.path.segments.last().is_some_and(|last| last.ident == "Date") => {
            parse_quote!(String)
        }
        Type::Path(path) => each_inner(path, typescript),
        other => other.clone(),
    }
}

/// How an owned argument is passed on.
fn pass(name: &Ident, ty: &Type) -> Tokens {
    match ty {
        Type::Reference(_) => quote!(&#name),
        Type::Path(path) => {
            let inner = path.path.segments.last().filter(|last| last.ident == "Option");
            match inner.map(|last| &last.arguments) {
                Some(PathArguments::AngleBracketed(generics)) => match generics.args.first() {
                    Some(GenericArgument::Type(Type::Reference(reference))) => match &*reference.elem {
                        Type::Slice(_) => quote!(#name.as_deref()),
                        Type::Path(path) if path.path.is_ident("str") => quote!(#name.as_deref()),
                        _ => quote!(#name.as_ref()),
                    },
                    _ => quote!(#name),
                },
                _ => quote!(#name),
            }
        }
        _ => quote!(#name),
    }
}

fn docs(attributes: &[Attribute]) -> String {
    let mut lines = Vec::new();
    for attribute in attributes.iter().filter(|a| a.path().is_ident("doc")) {
        if let Meta::NameValue(said) = &attribute.meta
            && let Expr::Lit(said) = &said.value
            && let Lit::Str(text) = &said.lit
        {
            lines.push(text.value().trim().to_owned());
        }
    }
    // "# Errors" is of no use there: every call may fail, and says why in words.
    let told = lines.iter().take_while(|line| !line.starts_with('#'));
    told.map(String::as_str).collect::<Vec<_>>().join("\n").trim().to_owned()
}

fn camel(snake: &str) -> String {
    let mut words = snake.trim_start_matches("r#").split('_');
    let mut name = words.next().unwrap_or_default().to_owned();
    for word in words {
        let mut letters = word.chars();
        if let Some(first) = letters.next() {
            name.extend(first.to_uppercase());
            name.push_str(letters.as_str());
        }
    }
    name
}
