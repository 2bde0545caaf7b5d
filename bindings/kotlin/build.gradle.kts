// A module for Android with the generated Kotlin, `Crew` and the libraries that
// `bindings/build/android.sh bindings/kotlin/src/main` writes. For a JVM on a desktop take the
// plugin `org.jetbrains.kotlin.jvm`, JNA without `@aar`, and the library on `jna.library.path`.

plugins {
    id("com.android.library")
    id("org.jetbrains.kotlin.android")
}

android {
    namespace = "chalkwalk"
    compileSdk = 35
    defaultConfig {
        minSdk = 26
        consumerProguardFiles("consumer-rules.pro")
    }
    sourceSets["main"].kotlin.srcDir("src/main/generated/kotlin")
    compileOptions {
        sourceCompatibility = JavaVersion.VERSION_17
        targetCompatibility = JavaVersion.VERSION_17
    }
    kotlinOptions { jvmTarget = "17" }
}

dependencies {
    implementation("net.java.dev.jna:jna:5.17.0@aar")
    api("org.jetbrains.kotlinx:kotlinx-coroutines-core:1.10.2")
}
