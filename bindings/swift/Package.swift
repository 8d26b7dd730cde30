// swift-tools-version:5.9
// The station for Swift. On Apple systems it stands on Tailcomb.xcframework (build-xcframework.sh makes it); elsewhere on
// the shared library that `make swift` builds, found by -L and LD_LIBRARY_PATH as `make test-swift` does.
import PackageDescription

#if os(Linux)
// The C headers, one module for each Rust crate with types of its own.
let native: [Target] = ["tailcomb_coreFFI", "tailcomb_ffiFFI", "tailcomb_tradeFFI"].map { .systemLibrary(name: $0) }
let linked: [LinkerSetting] = [.linkedLibrary("tailcomb_ffi")]
let standsOn: [Target.Dependency] = native.map { .byName(name: $0.name) }
#else
// Its headers carry the same three modules.
let native: [Target] = [.binaryTarget(name: "TailcombNative", path: "Tailcomb.xcframework")]
let linked: [LinkerSetting] = []
let standsOn: [Target.Dependency] = ["TailcombNative"]
#endif

let package = Package(
    name: "TailcombKit",
    platforms: [.iOS(.v15), .macOS(.v12)],
    products: [.library(name: "TailcombKit", targets: ["TailcombKit"])],
    targets: native + [
        .target(name: "TailcombKit", dependencies: standsOn, linkerSettings: linked),
        .executableTarget(name: "FloorSample", dependencies: ["TailcombKit"], path: "Samples/FloorSample"),
        .testTarget(name: "TailcombKitTests", dependencies: ["TailcombKit"]),
    ]
)
