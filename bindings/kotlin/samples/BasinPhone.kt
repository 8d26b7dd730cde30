package tailcomb.sample

import kotlin.time.Duration.Companion.minutes
import kotlinx.coroutines.coroutineScope
import kotlinx.coroutines.flow.first
import kotlinx.coroutines.launch
import tailcomb.AlarmScheduler
import tailcomb.HostServices
import tailcomb.core.Alarm
import tailcomb.core.Briefing
import tailcomb.core.FloorView
import tailcomb.core.HostException
import tailcomb.core.NewTimer
import tailcomb.core.Station
import tailcomb.core.TimerKind
import tailcomb.floors
import tailcomb.withTailcomb

/**
 * A phone at the basin, to copy from: it is paired with a salon, shows the floor, starts a timer, has the alarm
 * scheduled, and takes over the client who waits longest.
 *
 * java … tailcomb.sample.BasinPhoneKt DIRECTORY LINK PERSON, with a link from `tailcomb invite`
 */
suspend fun main(words: Array<String>) {
    val (directory, link, person) = words
    try {
        basinPhone(directory, link, person, show = ::println)
    } catch (refused: HostException) {
        // The code is for programs, the sentence for whoever holds the phone.
        println("${refused.sentence} (${refused.code})")
    }
}

suspend fun basinPhone(directory: String, link: String, person: String, show: (String) -> Unit) {
    // On Android this is AlarmManager.setAlarmClock; see README.md.
    val alarms = object : AlarmScheduler {
        override fun schedule(alarms: List<Alarm>) {
            for (alarm in alarms) show("rings at ${alarm.dueMs}: ${alarm.label.text}")
        }
    }
    withTailcomb(directory, HostServices(alarms = alarms)) { tailcomb ->
        // Pair once; later the station is there.
        val station = tailcomb.station() ?: tailcomb.join(link, "basin")
        tailcomb.exchange(withinMs = 10_000u)
        station.signInAs(person)

        coroutineScope {
            // The floor, whenever it changes, until this scope ends.
            val showing = launch { tailcomb.floors().collect { show(line(it)) } }

            // Returned means: on the disk.
            val rinse = NewTimer(TimerKind.PLAIN, "rinse", 3.minutes, null, emptyList(), null, null)
            station.startTimer(visit = null, rinse)

            takeOver(station)?.let { show("now yours: ${it.clientName}; watch: ${it.brief.watchCard.size} things") }
            tailcomb.floors().first { floor -> floor.timers.any { it.label.text == "rinse" } }
            showing.cancel()
        }
        tailcomb.exchange(withinMs = 10_000u)
    }
}

private fun line(floor: FloorView): String {
    val timers = floor.timers.joinToString { "${it.label.text} ${it.remainingMs?.div(1000)} s" }
    val clients = floor.visits.joinToString { visit -> "${visit.clientName} with ${visit.holders.joinToString { it.person.name }}" }
    return "${floor.salon}: $timers | $clients"
}

/** Takes over whoever has been here longest; none where nobody is here. */
private suspend fun takeOver(station: Station): Briefing? {
    val longest = station.floor().visits.minByOrNull { it.openedAtMs ?: Long.MAX_VALUE } ?: return null
    return station.take(longest.visit)
}
