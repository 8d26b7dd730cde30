package tailcomb.test

import java.util.concurrent.ConcurrentLinkedQueue
import kotlinx.serialization.json.jsonObject
import kotlinx.serialization.json.jsonPrimitive
import kotlinx.serialization.json.jsonArray
import org.junit.jupiter.api.Assertions.assertEquals
import org.junit.jupiter.api.Assertions.assertTrue
import org.junit.jupiter.api.Test
import tailcomb.core.NewVisit
import tailcomb.core.Role
import tailcomb.sample.basinPhone

/** What a newcomer copies from, and the station that is driven by lines. */
class SampleTest {
    @Test
    fun `the sample pairs, shows the floor, starts a timer, schedules its alarm and takes a client over`() = inHouse { house ->
        val relay = house.relay()
        val desk = house.device()
        val first = house.salon(desk, relay.url)
        first.addPerson("Teodor", Role.STYLIST)
        val client = first.newClient("Rosa Vale", emptyList())
        first.openVisit(NewVisit(client, "regrowth", null, null, true))
        desk.exchange(10_000u)
        val shown = ConcurrentLinkedQueue<String>()
        basinPhone("${house.folder()}", desk.invite(), "Teodor", shown::add)
        assertTrue(shown.any { it.startsWith("Quillwort:") && "rinse" in it }) { "$shown" }
        assertTrue(shown.any { it.startsWith("rings at ") && it.endsWith("rinse") }) { "$shown" }
        assertTrue(shown.any { it.startsWith("now yours: Rosa Vale") }) { "$shown" }
        eventually("the take-over at the desk") {
            first.floor().visits.single().holders.map { it.person.name } == listOf("Teodor")
        }
    }

    @Test
    fun `a station driven by lines answers each of them`() = inHouse { house ->
        val relay = house.relay()
        val desk = house.device()
        val first = house.salon(desk, relay.url)
        first.addPerson("Teodor", Role.STYLIST)
        val theirs = first.openVisit(NewVisit(first.newClient("Rosa Vale", emptyList()), "regrowth", null, null, true))
        desk.exchange(10_000u)
        OtherProcess().use { other ->
            fun gives(line: String) = other.gives(line)
            gives("""{"id":1,"do":"open","directory":"${house.folder()}","authority":null}""")
            gives("""{"id":2,"do":"join","link":"${desk.invite()}","station":"lines"}""")
            gives("""{"id":3,"do":"exchange","within_ms":10000}""")
            gives("""{"id":4,"do":"signIn","words":"Teodor"}""")
            val client = gives("""{"id":5,"do":"newClient","name":"Ana Lume"}""").jsonPrimitive.content
            val visit = gives("""{"id":6,"do":"openVisit","client":"$client","service":"gloss"}""").jsonPrimitive.content
            gives("""{"id":7,"do":"addNote","visit":"$visit","text":"cool water"}""")
            val timer = gives("""{"id":8,"do":"startTimer","visit":"$visit","label":"gloss","length_ms":600000}""")
            val at = """"doc":"${timer.word("doc")}","timer":"${timer.word("timer")}""""
            gives("""{"id":9,"do":"extendTimer",$at,"by_ms":60000}""")
            assertEquals("Rosa Vale", gives("""{"id":10,"do":"take","visit":"$theirs"}""").jsonPrimitive.content)
            gives("""{"id":11,"do":"pause"}""")
            val refused = other.asks("""{"id":12,"do":"silenceAll"}""")
            assertEquals("paused", refused.getValue("refused").word("code"))
            assertEquals("12", refused.word("id"))
            gives("""{"id":13,"do":"resume"}""")
            val silent = other.asks("""{"id":14,"do":"silenceAll"}""").getValue("refused")
            assertTrue(silent.word("sentence").startsWith("nothing rings")) { "$silent" }
            gives("""{"id":15,"do":"stopTimer",$at}""")
            val floor = gives("""{"id":16,"do":"floor"}""").jsonObject
            val names = floor.getValue("visits").jsonArray.map { it.word("client_name") }
            assertEquals(setOf("Rosa Vale", "Ana Lume"), names.toSet())
            eventually("the same record") {
                val met = gives("""{"id":17,"do":"exchange","within_ms":10000}""")
                desk.exchange(10_000u)
                met.word("unsent") == "0" && gives("""{"id":18,"do":"digest"}""").word("digest") == first.digest().digest
            }
            gives("""{"id":19,"do":"shut"}""")
            assertEquals(0, other.ends())
        }
    }
}
