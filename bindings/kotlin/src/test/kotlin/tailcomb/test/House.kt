package tailcomb.test

import java.io.File
import java.net.URI
import java.nio.file.Files
import java.nio.file.Path
import java.util.concurrent.TimeUnit
import kotlinx.coroutines.CoroutineScope
import kotlinx.coroutines.Dispatchers
import kotlinx.coroutines.runBlocking
import kotlinx.coroutines.withContext
import kotlinx.coroutines.withTimeout
import kotlinx.serialization.json.Json
import kotlinx.serialization.json.JsonElement
import kotlinx.serialization.json.JsonObject
import kotlinx.serialization.json.jsonObject
import kotlinx.serialization.json.jsonPrimitive
import tailcomb.HostServices
import tailcomb.Tailcomb
import tailcomb.core.NewSalon
import tailcomb.core.Role
import tailcomb.core.Station
import tailcomb.open

/** The longest that anything is waited for; generous, for machines that do much else. */
const val DEADLINE_MS = 60_000L

/** Everything that one test starts and makes; the end takes all of it away. */
class House : AutoCloseable {
    private val ends = ArrayDeque<() -> Unit>()

    fun folder(): Path {
        val folder = Files.createTempDirectory("tailcomb-")
        ends.addFirst { folder.toFile().deleteRecursively() }
        return folder
    }

    fun relay(): Relay = Relay(folder()).also { ends.addFirst(it::kill) }

    fun terminal(): Terminal = Terminal(folder())

    /** A station of this process, in a directory of its own. */
    suspend fun device(folder: Path = folder(), host: HostServices = HostServices()): Tailcomb {
        val device = open(folder.toString(), host)
        ends.addFirst {
            runBlocking { device.shut() }
            device.close()
        }
        return device
    }

    /** A salon with one station, founded here; the relay need not be there. */
    suspend fun salon(device: Tailcomb, relay: String = "http://127.0.0.1:9"): Station = device.found(
        NewSalon("Quillwort", "Europe/Lisbon", relay, "front desk", "Odile", Role.TRAINER),
    ).station

    override fun close() = ends.forEach { it() }
}

/** Runs what a test does with a house of its own. */
fun inHouse(work: suspend CoroutineScope.(House) -> Unit) = House().use { house ->
    runBlocking(Dispatchers.Default) { withTimeout(4 * DEADLINE_MS) { work(house) } }
}

/** Asks again and again until it holds. */
suspend fun eventually(what: String, holds: suspend () -> Boolean) {
    val until = System.nanoTime() + TimeUnit.MILLISECONDS.toNanos(DEADLINE_MS)
    while (!holds()) {
        check(System.nanoTime() < until) { "in vain waited for: $what" }
        kotlinx.coroutines.delay(20)
    }
}

/** The program: relay and terminal station. */
val program: String = checkNotNull(
    listOfNotNull(
        System.getenv("TAILCOMB_BIN"), "../../target/release/tailcomb", "../../target/debug/tailcomb",
    ).map(::File).firstOrNull(File::exists),
) { "build the program first: cargo build --release -p tailcomb-server" }.path

class Relay(private val folder: Path) {
    private lateinit var process: Process
    val url: String = start("127.0.0.1:0")

    private fun start(at: String): String {
        process = ProcessBuilder(
            program, "--json", "relay", "--listen", at, "--database", "$folder/relay.db", "--until-input-ends",
        ).redirectError(ProcessBuilder.Redirect.DISCARD).start()
        val ready = checkNotNull(process.inputReader().readLine()) { "the relay ended" }
        return Json.parseToJsonElement(ready).word("url")
    }

    /** As a cut of the power would: no goodbye. */
    fun kill() {
        process.destroyForcibly().waitFor()
    }

    /** At the same address, with all that it had kept. */
    fun again() {
        start(URI(url).authority)
    }
}

/** A terminal station: each call is a process that ends. */
class Terminal(val home: Path) {
    class Answer(val code: Int, val text: String) {
        val json: JsonElement get() = Json.parseToJsonElement(text)
    }

    suspend fun says(vararg words: String): Answer = withContext(Dispatchers.IO) {
        val process = ProcessBuilder(program, "--home", "$home", "--json", *words)
            .redirectError(ProcessBuilder.Redirect.INHERIT).start()
        process.outputStream.close()
        val text = process.inputReader().readText()
        Answer(process.waitFor(), text)
    }

    /** What it answers; that it did what it was asked is taken for granted. */
    suspend fun does(vararg words: String): JsonElement {
        val answer = says(*words)
        check(answer.code == 0) { "tailcomb ${words.joinToString(" ")}: ${answer.code}\n${answer.text}" }
        return answer.json
    }
}

/** A station in a process of its own, driven by lines. */
class OtherProcess : AutoCloseable {
    private val process = ProcessBuilder("./lines.sh").redirectError(ProcessBuilder.Redirect.INHERIT).start()
    private val asks = process.outputWriter()
    private val answers = process.inputReader()

    fun asks(line: String): JsonObject {
        asks.write("$line\n")
        asks.flush()
        return Json.parseToJsonElement(checkNotNull(answers.readLine()) { "it ended" }).jsonObject
    }

    fun gives(line: String): JsonElement = asks(line).let { checkNotNull(it["gives"]) { "$line: $it" } }

    /** Nothing more is asked of it; its exit code. */
    fun ends(): Int {
        asks.close()
        return process.waitFor()
    }

    override fun close() {
        process.destroyForcibly().waitFor()
    }
}

/** A word of what the terminal answered. */
fun JsonElement.word(name: String): String = jsonObject.getValue(name).jsonPrimitive.content

/** What the person is called who is signed in. */
suspend fun Station.who(): String = me()!!.name.versions.single().value
