package tailcomb.test

import kotlin.io.path.createTempDirectory
import kotlin.time.Duration.Companion.minutes
import kotlinx.coroutines.runBlocking
import tailcomb.core.NewSalon
import tailcomb.core.NewTimer
import tailcomb.core.Role
import tailcomb.core.TimerKind
import tailcomb.withTailcomb

private const val TIMERS = 5
private const val READS = 5_000
private const val STARTS = 200

/** What calls cost from Kotlin: the same calls as `bindings/ffi/examples/calls.rs`, one JSON line a figure. */
fun main() = runBlocking {
    val folder = createTempDirectory("tailcomb-bench")
    withTailcomb("$folder") { tailcomb ->
        val new = NewSalon("Bench", "Europe/Lisbon", "http://127.0.0.1:9", "bench", "Bea", Role.STYLIST)
        val station = tailcomb.found(new).station
        val gloss = NewTimer(TimerKind.GLOSS, "gloss", 20.minutes, null, emptyList(), null, null)
        repeat(TIMERS) { station.startTimer(null, gloss) }
        say("signed_in", READS) { station.signedIn() }
        say("status", READS) { station.status() }
        say("floor", READS) { station.floor() }
        say("start_timer", STARTS) { station.startTimer(null, gloss) }
    }
    folder.toFile().deleteRecursively()
    Unit
}

/** Calls so many times, after four times as many that are not counted: a JVM compiles what it meets often. */
private suspend fun say(call: String, times: Int, calls: suspend () -> Any) {
    repeat(4 * times) { calls() }
    val took = LongArray(times) {
        val begun = System.nanoTime()
        calls()
        System.nanoTime() - begun
    }
    took.sort()
    fun us(place: Int) = Math.round(took[place] / 100.0) / 10.0
    val (median, p95) = us(times / 2) to us(times * 19 / 20)
    println("""{"language":"kotlin","call":"$call","calls":$times,"median_us":$median,"p95_us":$p95}""")
}
