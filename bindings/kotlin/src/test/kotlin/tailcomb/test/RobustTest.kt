package tailcomb.test

import java.io.File
import java.nio.charset.CharacterCodingException
import java.util.concurrent.CountDownLatch
import java.util.concurrent.Semaphore
import java.util.concurrent.atomic.AtomicInteger
import kotlin.random.Random
import kotlinx.coroutines.Dispatchers
import kotlinx.coroutines.async
import kotlinx.coroutines.awaitAll
import kotlinx.coroutines.cancelAndJoin
import kotlinx.coroutines.coroutineScope
import kotlinx.coroutines.delay
import kotlinx.coroutines.joinAll
import kotlinx.coroutines.launch
import kotlinx.coroutines.runBlocking
import kotlinx.coroutines.withContext
import kotlinx.coroutines.yield
import kotlinx.serialization.json.Json
import kotlinx.serialization.json.jsonPrimitive
import org.junit.jupiter.api.Assertions.assertEquals
import org.junit.jupiter.api.Assertions.assertTrue
import org.junit.jupiter.api.Test
import org.junit.jupiter.api.assertThrows
import tailcomb.HostClock
import tailcomb.HostServices
import tailcomb.Observer
import tailcomb.core.Alarm
import tailcomb.core.ClientField
import tailcomb.core.FieldText
import tailcomb.core.FloorView
import tailcomb.core.HostException
import tailcomb.core.NewVisit
import tailcomb.core.Said
import tailcomb.core.Station
import tailcomb.core.Status
import tailcomb.core.Topic
import tailcomb.withTailcomb

/** A clock that keeps who reads it until a test lets them go. */
private class Gate : HostClock {
    @Volatile var open = CountDownLatch(0)
    val reached = Semaphore(0)

    override fun wallMs(): Long {
        if (open.count > 0) reached.release()
        open.await()
        return 1_790_000_000_000
    }

    override fun bootMs() = 1_000L
}

class RobustTest {
    @Test
    fun `a question waits for the command at work and the thread that asked goes on`() = inHouse { house ->
        val gate = Gate()
        val station = house.salon(house.device(host = HostServices(clock = gate)))
        gate.open = CountDownLatch(1)
        // One thing at a time, as on a screen's thread.
        withContext(Dispatchers.Default.limitedParallelism(1)) {
            val command = launch { station.startTimer(null, plain("first", 5)) }
            yield()
            withContext(Dispatchers.IO) { gate.reached.acquire() }
            val question = async { station.floor() }
            val givenUp = async { station.floor() }
            repeat(20) { delay(1) }
            assertTrue(question.isActive && command.isActive)
            givenUp.cancelAndJoin()
            assertTrue(givenUp.isCancelled && question.isActive)
            gate.open.countDown()
            assertEquals(listOf("first"), question.await().timers.map { it.label.text })
            command.join()
        }
        // Also where who waits goes on in the very call that wakes it.
        val floors = List(20) { async(Dispatchers.Unconfined) { station.startTimer(null, plain("$it", 5)); station.floor() } }
        assertEquals(21, floors.awaitAll().maxOf { it.timers.size })
    }

    @Test
    fun `a command that is cancelled is done whole or not at all`() = inHouse { house ->
        val station = house.salon(house.device())
        var doneAll = 0
        var notAtAll = 0
        var round = 0
        while (doneAll == 0 || notAtAll == 0 || round < 40) {
            check(++round <= 400) { "in all rounds done $doneAll, not done $notAtAll: one of them never came about" }
            val finished = AtomicInteger()
            val names = List(8) { "Client $round-$it" }
            val commands = names.map { name ->
                launch(Dispatchers.Default) {
                    val email = FieldText(ClientField.EMAIL, "$round@example.org")
                    station.newClient(name, listOf(FieldText(ClientField.PHONE, "070 $name"), email))
                    finished.incrementAndGet()
                }
            }
            delay(Random.nextLong(0, 12))
            commands.forEach { it.cancel() }
            commands.joinAll()
            // What comes after it in the line has been done, so whatever was begun before has an end by now.
            station.renameStation(null, "desk $round")
            val there = station.clients().filter { it.title in names }
            for (found in there) {
                val card = station.client(found.id)
                assertEquals("070 ${found.title}", text(card.fields, "phone"))
                assertEquals("$round@example.org", text(card.fields, "email"))
            }
            assertTrue(there.size >= finished.get()) { "a command that was answered was not done" }
            // Done, although nobody waited for it any more.
            doneAll += there.size - finished.get()
            notAtAll += names.size - there.size
        }
        println("cancelled: $doneAll commands done whole, $notAtAll not at all, in $round rounds")
    }

    private fun text(fields: Map<String, List<Said>>, name: String) = Json.parseToJsonElement(fields.getValue(name).single().value).jsonPrimitive.content

    @Test
    fun `many coroutines and threads at once each get their own answers`() = inHouse { house ->
        val device = house.device()
        val station = house.salon(device)
        val (workers, each) = 32 to 10
        suspend fun works(worker: String) {
            repeat(each) { turn ->
                val set = station.startTimer(null, plain("$worker-$turn", 30))
                assertEquals("$worker-$turn", station.timers().single { it.id == set.at.timer }.label.text)
                assertEquals("Odile", station.who())
            }
        }
        coroutineScope { List(workers) { async(Dispatchers.IO) { works("coroutine $it") } }.awaitAll() }
        val failed = AtomicInteger()
        val threads = List(4) { n ->
            Thread { runBlocking { works("thread $n") } }.apply {
                setUncaughtExceptionHandler { _, error -> error.printStackTrace(); failed.incrementAndGet() }
                start()
            }
        }
        threads.forEach(Thread::join)
        assertEquals(0, failed.get())
        assertEquals((workers + 4) * each, station.floor().timers.map { it.label.text }.toSet().size)
    }

    @Test
    fun `large and odd strings come back as they went or are refused`() = inHouse { house ->
        val folder = house.folder()
        val device = house.device(folder)
        val station = house.salon(device)
        val client = station.newClient("Rosa Vale", emptyList())
        val visit = station.openVisit(NewVisit(client, "regrowth", null, null, true))
        val odd = listOf(
            "👩🏽‍🦰 a family 👨‍👩‍👧‍👦, a flag 🇵🇹, an astral 𝒳",
            "מברשת على الشعر \u202Eback\u202C",
            "e\u0301 stays two, \u00e9 one; ﷽",
            "a\u0000b\u0001c",
            "line\r\nline\u2028line",
        )
        // Together more than a megabyte in one answer.
        val long = List(140) { "$it " + "𝒳".repeat(2000) }
        val texts = odd + long
        val ids = texts.map { station.addNote(visit, Topic.WORK, it) }
        suspend fun kept(station: Station) =
            station.visit(visit).notes.associate { it.id to it.said.versions.single().value.text }
        assertEquals(ids.zip(texts).toMap(), kept(station))
        // Half a pair of surrogates is no text; it does not get as far as the station.
        assertThrows<CharacterCodingException> {
            runBlocking { station.addNote(visit, Topic.WORK, "half \uD83D of a pair") }
        }
        // A megabyte in one note: refused, and nothing of it is kept.
        val refused = assertThrows<HostException.Refused> {
            runBlocking { station.addNote(visit, Topic.WORK, "𝒳".repeat(1 shl 18)) }
        }
        assertEquals("refused", refused.code)
        assertTrue(station.search("x".repeat(1 shl 20), 5u).isEmpty())
        device.shut()
        assertEquals(ids.zip(texts).toMap(), kept(house.device(folder).station()!!))
    }

    @Test
    fun `opening and closing ten thousand times leaves nothing behind`() = inHouse { house ->
        val device = house.device()
        house.salon(device)
        val folder = house.folder()
        house.device(folder).let { house.salon(it); it.shut() }

        suspend fun objects(times: Int) = repeat(times) {
            device.station()!!.use { it.today() }
            device.observe(Heavy()).use { it.end() }
        }

        suspend fun stores(times: Int) = repeat(times) {
            withTailcomb("$folder") { again -> again.station()!!.use { it.today() } }
        }
        // Half of it, after which nothing is new to this process any more; then what the other half left behind.
        objects(5000)
        stores(200)
        val before = Used.now()
        objects(5000)
        stores(200)
        lateinit var after: Used
        eventually("all that was used is given back") {
            after = Used.now()
            after.threads <= before.threads + 2 && after.files <= before.files + 2 && after.heapMb <= before.heapMb + 16
        }
        println("10,000 objects with 10,000 observers, 400 stores; half of them: $before, all: $after")
        // A leaked store would be 200 times some hundred kilobytes, an object with its observer 5000 times some.
        assertTrue(after.nativeMb <= before.nativeMb + 32) { "$before, then $after" }
    }
}

/** An observer of some size, to be missed when it is not let go. */
private class Heavy : Observer {
    private val load = ByteArray(16 * 1024)
    override fun floor(floor: FloorView) = Unit
    override fun alarms(alarms: List<Alarm>) = Unit
    override fun status(status: Status) = Unit
}

/** What this process has in use. */
private data class Used(val heapMb: Long, val nativeMb: Long, val threads: Int, val files: Int) {
    companion object {
        suspend fun now(): Used {
            // Twice: what the first one finds, its cleaners let go before the second.
            repeat(2) {
                System.gc()
                delay(200)
            }
            val runtime = Runtime.getRuntime()
            val status = File("/proc/self/status").readLines()
                .map { it.split(Regex(":\\s+")) }.filter { it.size == 2 }.associate { (name, value) -> name to value }
            fun number(name: String) = status.getValue(name).substringBefore(' ').toLong()
            return Used(
                heapMb = (runtime.totalMemory() - runtime.freeMemory()) shr 20,
                nativeMb = (number("VmRSS") shr 10) - (runtime.totalMemory() shr 20),
                threads = number("Threads").toInt(),
                files = File("/proc/self/fd").list()!!.size,
            )
        }
    }
}
