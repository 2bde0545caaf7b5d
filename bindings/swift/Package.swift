// swift-tools-version:5.9
import PackageDescription

// `bindings/build/ios.sh` makes ChalkwalkFFI.xcframework and writes Sources/Chalkwalk/Chalkwalk.swift.
let package = Package(
    name: "Chalkwalk",
    platforms: [.iOS(.v15), .macOS(.v12)],
    products: [.library(name: "Chalkwalk", targets: ["Chalkwalk"])],
    targets: [
        .binaryTarget(name: "ChalkwalkFFI", path: "ChalkwalkFFI.xcframework"),
        .target(name: "Chalkwalk", dependencies: ["ChalkwalkFFI"]),
    ]
)
