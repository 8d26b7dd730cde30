#!/usr/bin/env bash
# A station that reads lines of JSON and answers them (src/test/kotlin/tailcomb/test/Lines.kt). Compile first:
# mvn test-compile.
cd "$(dirname "$0")" && exec java -cp "target/classes:target/test-classes:$(cat target/classpath)" tailcomb.test.LinesKt
