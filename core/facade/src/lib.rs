//! One line on an impl block, and its public methods can be called by hosts that speak no Rust, with the types and the
//! words that Rust has for them. So such a host gets every method that is written from now on, and nobody keeps a second
//! list.
//!
//! ```text
//! #[cfg_attr(any(feature = "web", feature = "ffi"), tailcomb_facade::exported(except(act), asks(floor)))]
//! impl Station { … }
//! ```
//!
//! makes, with the feature `web`, `FACADE` beside the block: a list of `crate::station::facade::Method`, called by name
//! with JSON and described for TypeScript. With the feature `ffi`: the same methods as ones of
//! `crate::station::hosted::HostedStation`, exported by UniFFI: commands as async ones, questions as plain ones that are
//! answered at once or not at all (see `hosted`). `asks` names those that change nothing although they
//! want the station for themselves (documents are opened and kept open while they are read).

mod carried;
mod hosted;

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
    let said = parse_macro_input!(arguments as Said);
    let block = parse_macro_input!(item as ItemImpl);
    let made = export(&said, &block).unwrap_or_else(Error::into_compile_error);
    quote!(#block #made).into()
}

/// On a struct with one type parameter: what it is used with. Each use becomes a record for UniFFI, called after both:
/// `Register<Slot>` goes over as `SlotRegister`.
#[proc_macro_attribute]
pub fn used_with(arguments: TokenStream, item: TokenStream) -> TokenStream {
    let uses = parse_macro_input!(arguments as carried::Uses);
    let item = parse_macro_input!(item as syn::ItemStruct);
    let made = carried::each(&uses, &item).unwrap_or_else(Error::into_compile_error);
    quote!(#item #made).into()
}

/// On a struct that is only given by the station: it goes over to UniFFI as a record without these fields.
#[proc_macro_attribute]
pub fn given_without(arguments: TokenStream, item: TokenStream) -> TokenStream {
    let hidden = parse_macro_input!(arguments with syn::punctuated::Punctuated::<Ident, syn::Token![,]>::parse_terminated);
    let hidden: Vec<Ident> = hidden.into_iter().collect();
    let item = parse_macro_input!(item as syn::ItemStruct);
    let made = carried::without(&hidden, &item).unwrap_or_else(Error::into_compile_error);
    quote!(#item #made).into()
}

/// A name for a tuple, and names for its places, for UniFFI: written as a struct.
#[proc_macro]
pub fn tuple(item: TokenStream) -> TokenStream {
    let item = parse_macro_input!(item as syn::ItemStruct);
    carried::tuple(&item).unwrap_or_else(Error::into_compile_error).into()
}

/// What is said of the methods of a block.
#[derive(Default)]
struct Said {
    except: Vec<Ident>,
    asks: Vec<Ident>,
}

impl syn::parse::Parse for Said {
    fn parse(input: syn::parse::ParseStream<'_>) -> syn::Result<Self> {
        let mut said = Self::default();
        while !input.is_empty() {
            let word: Ident = input.parse()?;
            let named;
            syn::parenthesized!(named in input);
            let named = named.parse_terminated(<Ident as syn::ext::IdentExt>::parse_any, syn::Token![,])?;
            match word.to_string().as_str() {
                "except" => said.except.extend(named),
                "asks" => said.asks.extend(named),
                _ => return Err(Error::new(word.span(), "`except(method, …)` or `asks(method, …)`")),
            }
            if !input.is_empty() {
                input.parse::<syn::Token![,]>()?;
            }
        }
        Ok(said)
    }
}

fn export(said: &Said, block: &ItemImpl) -> syn::Result<Tokens> {
    let owner = &block.self_ty;
    let (mut by_name, mut hosted) = (Vec::new(), Vec::new());
    let mut unused: Vec<&Ident> = said.except.iter().chain(&said.asks).collect();
    for item in &block.items {
        let ImplItem::Fn(method) = item else { continue };
        let name = &method.sig.ident;
        unused.retain(|named| *named != name);
        if said.except.contains(name) || !matches!(method.vis, syn::Visibility::Public(_)) {
            continue;
        }
        if let Some(receiver) = method.sig.receiver() {
            by_name.push(one(owner, method)?);
            let asks = receiver.mutability.is_none() || said.asks.contains(name);
            hosted.push(hosted::method(owner, method, asks)?);
        }
    }
    if let Some(name) = unused.first() {
        return Err(Error::new(name.span(), "there is no such method"));
    }
    Ok(quote! {
        /// What of this block hosts call by name.
        #[cfg(feature = "web")]
        pub(super) const FACADE: &[crate::station::facade::Method] = &[#(#by_name),*];

        #[cfg(feature = "ffi")]
        const _: () = {
            use crate::station::hosted::HostedStation;

            #[uniffi::export(name = "Station")]
            impl HostedStation {
                #(#hosted)*
            }
        };
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
        let owned = if bytes(&input.ty) { parse_quote!(crate::web::Bytes) } else { owned(&input.ty) };
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

/// Whether it is borrowed bytes, which JSON cannot say.
fn bytes(ty: &Type) -> bool {
    *ty == parse_quote!(&[u8])
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
