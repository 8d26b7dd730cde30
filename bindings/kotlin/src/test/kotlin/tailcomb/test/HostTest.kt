package tailcomb.test

import java.util.concurrent.ConcurrentLinkedQueue
import java.util.concurrent.atomic.AtomicBoolean
import java.util.concurrent.atomic.AtomicInteger
import java.util.concurrent.atomic.AtomicLong
import kotlinx.coroutines.async
import kotlinx.coroutines.delay
import kotlinx.coroutines.flow.first
import kotlinx.coroutines.flow.map
import kotlinx.coroutines.flow.onEach
import kotlinx.coroutines.flow.toList
import kotlinx.coroutines.flow.transformWhile
import kotlinx.coroutines.runBlocking
import kotlinx.serialization.json.jsonObject
import org.junit.jupiter.api.Assertions.assertArrayEquals
import org.junit.jupiter.api.Assertions.assertEquals
import org.junit.jupiter.api.Assertions.assertFalse
import org.junit.jupiter.api.Assertions.assertNotNull
import org.junit.jupiter.api.Assertions.assertTrue
import org.junit.jupiter.api.Test
import org.junit.jupiter.api.assertThrows
import tailcomb.AlarmScheduler
import tailcomb.Connectivity
import tailcomb.HostServices
import tailcomb.HostClock
import tailcomb.KeyVault
import tailcomb.LogLevel
import tailcomb.Logger
import tailcomb.NetworkTold
import tailcomb.Observer
import tailcomb.alarms
import tailcomb.core.Alarm
import tailcomb.core.FloorView
import tailcomb.core.HostException
import tailcomb.core.Status
import tailcomb.floors
import tailcomb.logTo
import tailcomb.statuses

class Vault : KeyVault {
    var kept: ByteArray? = null
    override fun key() = kept
    override fun keep(key: ByteArray) {
        kept = key
    }
}

/** A clock that tests move, and break. */
class Hand : HostClock {
    val ahead = AtomicLong()
    val broken = AtomicBoolean()
    private fun read(ms: Long) = if (broken.get()) error("the clock is broken") else ms + ahead.get()
    override fun wallMs() = read(System.currentTimeMillis())
    override fun bootMs() = read(System.nanoTime() / 1_000_000)
}

class HostTest {
    @Test
    fun `the key is kept in the vault of the host and nowhere else`() = inHouse { house ->
        val folder = house.folder()
        val vault = Vault()
        val device = house.device(folder, HostServices(keyVault = vault))
        house.salon(device)
        assertEquals(32, vault.kept!!.size)
        device.shut()
        val key = vault.kept!!.clone()
        assertFalse(folder.resolve("key").toFile().exists())
        assertNotNull(house.device(folder, HostServices(keyVault = vault)).station())
        assertArrayEquals(key, vault.kept)
    }

    @Test
    fun `the scheduler is handed what is to ring, by the clock of the host`() = inHouse { house ->
        val scheduled = ConcurrentLinkedQueue<List<Alarm>>()
        val hand = Hand()
        val device = house.device(host = HostServices(alarms = scheduler { scheduled.add(it) }, clock = hand))
        val station = house.salon(device)
        hand.ahead.set(3_600_000)
        val set = station.startTimer(null, plain("gloss", 20))
        assertTrue(set.dueMs!! > System.currentTimeMillis() + 3_600_000)
        eventually("the alarm") { scheduled.lastOrNull()?.singleOrNull()?.dueMs == set.dueMs }
        station.stopTimer(set.at)
        eventually("no alarm") { scheduled.last().isEmpty() }
    }

    private fun scheduler(schedule: (List<Alarm>) -> Unit) = object : AlarmScheduler {
        override fun schedule(alarms: List<Alarm>) = schedule(alarms)
    }

    @Test
    fun `a network that comes back is used at once`() = inHouse { house ->
        lateinit var network: NetworkTold
        val connectivity = object : Connectivity {
            override fun tell(network_: NetworkTold) {
                network = network_
            }
        }
        val relay = house.relay()
        val device = house.device(host = HostServices(connectivity = connectivity))
        val station = house.salon(device, relay.url)
        device.exchange(10_000u)
        relay.kill()
        station.newClient("Rosa Vale", emptyList())
        device.statuses().first { !it.reachable }
        relay.again()
        network.reachable(true)
        device.statuses().first { it.reachable && it.unsent == 0uL }
    }

    @Test
    fun `host code that fails does not harm the station, nor others who watch`() = inHouse { house ->
        val hand = Hand()
        val calls = AtomicInteger()
        fun fail(): Nothing {
            calls.incrementAndGet()
            error("the host's own mistake")
        }
        val device = house.device(host = HostServices(alarms = scheduler { fail() }, clock = hand))
        val station = house.salon(device)
        val failing = object : Observer {
            override fun floor(floor: FloorView) = fail()
            override fun alarms(alarms: List<Alarm>) = fail()
            override fun status(status: Status) = fail()
        }
        device.observe(failing).use { observation ->
            val before = calls.get()
            val first = station.startTimer(null, plain("gloss", 20))
            hand.broken.set(true)
            val error = assertThrows<HostException.Internal> { runBlocking { station.startTimer(null, plain("lost", 5)) } }
            assertEquals("internal", error.code)
            hand.broken.set(false)
            val second = station.startTimer(null, plain("towel", 5))
            val alarms = device.alarms().first { it.size == 2 }
            assertEquals(listOf(second.dueMs, first.dueMs), alarms.map { it.dueMs })
            eventually("calls that fail") { calls.get() > before }
            observation.end()
        }
        assertEquals(2, station.floor().timers.size)
    }

    @Test
    fun `an observer is told what stands, then what changes, and nothing after its end`() = inHouse { house ->
        val device = house.device()
        val station = house.salon(device)
        val floors = ConcurrentLinkedQueue<Int>()
        val observer = object : Observer {
            override fun floor(floor: FloorView) {
                floors.add(floor.timers.size)
            }
            override fun alarms(alarms: List<Alarm>) = Unit
            override fun status(status: Status) = Unit
        }
        val observation = device.observe(observer)
        eventually("the floor as it stands") { floors.lastOrNull() == 0 }
        station.startTimer(null, plain("gloss", 20))
        eventually("the floor with a timer") { floors.lastOrNull() == 1 }
        observation.end()
        station.startTimer(null, plain("towel", 5))
        device.floors().first { it.timers.size == 2 }
        assertEquals(1, floors.last())
        observation.close()
    }

    @Test
    fun `a flow gives the newest to a slow collector, and goes on over a pause`() = inHouse { house ->
        val device = house.device()
        val station = house.salon(device)
        val sizes = async {
            device.floors().onEach { delay(100) }.map { it.timers.size }.transformWhile { emit(it); it < 30 }.toList()
        }
        repeat(29) { station.startTimer(null, plain("timer $it", 20)) }
        device.pause()
        device.resume()
        station.startTimer(null, plain("the last", 20))
        val seen = sizes.await()
        assertEquals(30, seen.last())
        assertEquals(seen.sorted(), seen)
        assertTrue(seen.size < 30) { "a slow collector was given every floor: $seen" }
    }

    @Test
    fun `a pause lets another process in`() = inHouse { house ->
        val relay = house.relay()
        val folder = house.folder()
        val device = house.device(folder)
        val station = house.salon(device, relay.url)
        station.startTimer(null, plain("gloss", 20))
        device.exchange(10_000u)
        OtherProcess().use { other ->
            val open = """{"id":1,"do":"open","directory":"$folder","authority":null}"""
            assertEquals("in-use", other.asks(open).getValue("refused").word("code"))
            val terminal = Terminal(folder)
            assertEquals("in-use", terminal.says("--offline", "floor").json.jsonObject.getValue("error").word("code"))
            val began = System.nanoTime()
            device.pause()
            println("paused in ${(System.nanoTime() - began) / 1_000_000} ms")
            other.gives(open)
            other.gives("""{"id":2,"do":"signIn","words":"Odile"}""")
            other.gives("""{"id":3,"do":"startTimer","label":"towel","length_ms":300000}""")
            other.gives("""{"id":4,"do":"shut"}""")
        }
        device.resume()
        assertEquals(setOf("gloss", "towel"), station.floor().timers.map { it.label.text }.toSet())
        assertEquals("Odile", station.who())
    }

    @Test
    fun `the log of the host hears of what was got over`() = inHouse { house ->
        val lines = ConcurrentLinkedQueue<String>()
        val logger = object : Logger {
            override fun log(level: LogLevel, target: String, line: String) {
                lines.add("$level $target $line")
                error("this log fails as well")
            }
        }
        assertTrue(logTo(logger, LogLevel.WARN))
        assertFalse(logTo(logger, LogLevel.WARN), "there is one already")
        val device = house.device(host = HostServices(alarms = scheduler { error("the host's own mistake") }))
        house.salon(device).startTimer(null, plain("gloss", 20))
        eventually("a line") { lines.any { it.startsWith("WARN tailcomb") && "host" in it } }
        assertEquals(1, device.station()!!.floor().timers.size)
    }
}
