package tailcomb.test

import org.junit.jupiter.api.Assertions.assertEquals
import kotlin.time.Duration.Companion.minutes
import kotlinx.coroutines.flow.first
import org.junit.jupiter.api.Assertions.assertTrue
import org.junit.jupiter.api.Test
import tailcomb.alarms
import tailcomb.core.NewTimer
import tailcomb.core.TimerKind
import tailcomb.floors
import tailcomb.withTailcomb

class StationTest {
    @Test
    fun `a timer that was started is on the floor, in the alarms, and there after opening again`() = inHouse { house ->
        val folder = house.folder()
        val device = house.device(folder)
        val station = house.salon(device)
        val set = station.startTimer(null, plain("towel", 5))
        assertEquals("towel", device.floors().first { it.timers.isNotEmpty() }.timers.single().label.text)
        assertEquals(set.dueMs, device.alarms().first { it.isNotEmpty() }.single().dueMs)
        device.shut()
        withTailcomb(folder.toString()) { again ->
            assertEquals(set.at.timer, again.station()!!.floor().timers.single().timer)
        }
    }

    @Test
    fun `an exchange has everything sent when it returns, also beside those that run`() = inHouse { house ->
        val relay = house.relay()
        val device = house.device()
        val station = house.salon(device, relay.url)
        assertTrue(device.invite().startsWith(relay.url))
        repeat(20) { turn ->
            station.newClient("Client $turn", emptyList())
            assertEquals(0uL, device.exchange(10_000u).unsent)
        }
    }
}

fun plain(label: String, minutes: Int) = NewTimer(TimerKind.PLAIN, label, minutes.minutes, null, emptyList(), null, null)
