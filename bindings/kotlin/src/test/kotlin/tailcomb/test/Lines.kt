package tailcomb.test

import kotlin.time.Duration.Companion.milliseconds
import kotlinx.coroutines.runBlocking
import kotlinx.serialization.json.Json
import kotlinx.serialization.json.JsonElement
import kotlinx.serialization.json.JsonNull
import kotlinx.serialization.json.JsonObject
import kotlinx.serialization.json.JsonPrimitive
import kotlinx.serialization.json.buildJsonObject
import kotlinx.serialization.json.contentOrNull
import kotlinx.serialization.json.jsonObject
import kotlinx.serialization.json.jsonPrimitive
import kotlinx.serialization.json.long
import kotlinx.serialization.json.put
import kotlinx.serialization.json.putJsonArray
import kotlinx.serialization.json.addJsonObject
import tailcomb.HostServices
import tailcomb.Tailcomb
import tailcomb.core.DocId
import tailcomb.core.EntryId
import tailcomb.core.HostException
import tailcomb.core.NewTimer
import tailcomb.core.NewVisit
import tailcomb.core.Topic
import tailcomb.core.Station
import tailcomb.core.TimerKind
import tailcomb.core.TimerRef
import tailcomb.open

/**
 * A station that is told what to do by lines of JSON and answers each with one: for the day in which stations of several
 * languages work together. `{"id":1,"do":"open",…}` gives `{"id":1,"gives":…}` or `{"id":1,"refused":{…}}`.
 */
fun main() = runBlocking {
    val lines = Lines()
    for (line in generateSequence(::readLine).filter(String::isNotBlank)) {
        val asked = Json.parseToJsonElement(line).jsonObject
        val answer = buildJsonObject {
            put("id", asked["id"] ?: JsonNull)
            try {
                put("gives", lines.does(asked))
            } catch (refused: HostException) {
                put("refused", refusal(refused.code, refused.sentence))
            } catch (mistake: Exception) {
                put("refused", refusal("line", mistake.toString()))
            }
        }
        println(answer)
    }
    lines.end()
}

private fun refusal(code: String, sentence: String) = buildJsonObject {
    put("code", code)
    put("sentence", sentence)
}

private class Lines {
    private var device: Tailcomb? = null

    private fun device() = checkNotNull(device) { "open a directory first" }

    private fun station(): Station = checkNotNull(device().station()) { "no salon is here yet" }

    suspend fun end() {
        device?.use { it.shut() }
        device = null
    }

    suspend fun does(asked: JsonObject): JsonElement {
        fun said(name: String) = asked[name]?.jsonPrimitive?.contentOrNull
        fun text(name: String) = requireNotNull(said(name)) { "$name is wanted" }
        fun number(name: String) = requireNotNull(asked[name]) { "$name is wanted" }.jsonPrimitive.long
        fun doc(name: String) = DocId(text(name))
        fun timer() = TimerRef(doc("doc"), EntryId(text("timer")))
        when (val what = text("do")) {
            "open" -> {
                end()
                device = open(text("directory"), HostServices(authority = said("authority")?.encodeToByteArray()))
            }
            "join" -> device().join(text("link"), text("station"))
            "signIn" -> station().signInAs(text("words"))
            "newClient" -> return JsonPrimitive(station().newClient(text("name"), emptyList()).text)
            "openVisit" -> {
                val new = NewVisit(doc("client"), text("service"), null, null, true)
                return JsonPrimitive(station().openVisit(new).text)
            }
            "startTimer" -> {
                val length = number("length_ms").milliseconds
                val new = NewTimer(TimerKind.PLAIN, text("label"), length, null, emptyList(), null, null)
                val set = station().startTimer(said("visit")?.let(::DocId), new)
                return buildJsonObject {
                    put("doc", set.at.doc.text)
                    put("timer", set.at.timer.text)
                    put("due_ms", set.dueMs)
                }
            }
            "stopTimer" -> station().stopTimer(timer())
            "silenceAll" -> return JsonPrimitive(station().silenceAll().size)
            "extendTimer" -> station().extendTimer(timer(), number("by_ms").milliseconds)
            "addNote" -> station().addNote(doc("visit"), Topic.WORK, text("text"))
            "take" -> return JsonPrimitive(station().take(doc("visit")).clientName)
            "floor" -> return floor()
            "exchange" -> device().exchange(number("within_ms").toUInt()).let { status ->
                return buildJsonObject {
                    put("unsent", status.unsent.toLong())
                    put("caught_up", status.caughtUp)
                }
            }
            "digest" -> station().digest().let { held ->
                return buildJsonObject {
                    put("digest", held.digest)
                    put("documents", held.documents.toLong())
                }
            }
            "pause" -> device().pause()
            "resume" -> device().resume()
            "shut" -> end()
            else -> throw IllegalArgumentException("what is \"$what\"?")
        }
        return JsonNull
    }

    private suspend fun floor(): JsonElement {
        val floor = station().floor()
        return buildJsonObject {
            putJsonArray("timers") {
                for (timer in floor.timers) addJsonObject {
                    put("label", timer.label.text)
                    put("doc", timer.doc.text)
                    put("timer", timer.timer.text)
                }
            }
            putJsonArray("visits") {
                for (visit in floor.visits) addJsonObject {
                    put("visit", visit.visit.text)
                    put("client_name", visit.clientName)
                }
            }
        }
    }
}
