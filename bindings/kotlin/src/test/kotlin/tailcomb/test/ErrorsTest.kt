package tailcomb.test

import java.nio.file.Files
import kotlinx.coroutines.runBlocking
import org.junit.jupiter.api.Assertions.assertEquals
import org.junit.jupiter.api.Assertions.assertTrue
import org.junit.jupiter.api.Test
import org.junit.jupiter.api.assertThrows
import tailcomb.HostServices
import tailcomb.KeyVault
import tailcomb.KeyVaultException
import tailcomb.core.DocId
import tailcomb.core.HostException
import tailcomb.core.NewVisit
import tailcomb.open
import tailcomb.trade.ToldValue

/** Each kind of refusal arrives as its own class, with a code for programs and a sentence for people. */
class ErrorsTest {
    /** The code of a refusal of this kind. */
    private inline fun <reified E : HostException> refusal(crossinline asked: suspend () -> Unit): String {
        val error = assertThrows<E> { runBlocking { asked() } }
        assertTrue(error.sentence.length > 10 && ' ' in error.sentence) { "no sentence: ${error.sentence}" }
        assertEquals(error.sentence, error.message)
        assertEquals(error.sentence, error.said.text)
        return error.code
    }

    @Test
    fun `a refusal can be told in another language`() = inHouse { house ->
        val station = house.salon(house.device())
        val refused = assertThrows<HostException.Refused> { runBlocking { station.findTimer("gloss") } }
        val said = refused.said
        // As an app does that has a catalogue of sentences: the places are filled in where its language has them.
        val places = said.with.associate { it.name to it.value }
        assertTrue(places.keys.all { "{$it}" in said.say } && places.isNotEmpty()) { "$said" }
        assertEquals("gloss", (places["name"] as ToldValue.Text).text)
        val file = Files.createFile(house.folder().resolve("file"))
        val device = assertThrows<HostException.Device> { runBlocking { open("$file/below", HostServices()) } }
        assertEquals("the station's directory cannot be used: {error}", device.said.say)
    }

    @Test
    fun `what the station refuses`() = inHouse { house ->
        val device = house.device()
        assertEquals("no-salon", refusal<HostException.Refused> { device.device() })
        assertEquals("link", refusal<HostException.Refused> { device.join("https://nowhere/else", "basin") })
        assertEquals("words", refusal<HostException.Refused> { device.recover("not the words", "http://127.0.0.1:9", "basin") })
        val station = house.salon(device)
        assertEquals("station-exists", refusal<HostException.Refused> { house.salon(device) })
        assertEquals("not-found", refusal<HostException.Refused> { station.signInAs("Nobody") })
        assertEquals("not-found", refusal<HostException.Refused> { station.findTimer("gloss") })
        station.startTimer(null, plain("gloss", 5))
        station.startTimer(null, plain("gloss", 6))
        assertEquals("ambiguous", refusal<HostException.Refused> { station.findTimer("gloss") })
        assertEquals("refused", refusal<HostException.Refused> { station.newClient("", emptyList()) })
        station.signOut()
        assertEquals("nobody-signed-in", refusal<HostException.Refused> { station.newClient("Rosa Vale", emptyList()) })
    }

    @Test
    fun `an argument that is not what it should be is refused like any other`() = inHouse { house ->
        val station = house.salon(house.device())
        assertEquals("refused", refusal<HostException.Refused> { station.client(DocId("no such name")) })
        val visit = NewVisit(DocId("client/\u0000"), "regrowth", null, null, true)
        assertEquals("refused", refusal<HostException.Refused> { station.openVisit(visit) })
        assertEquals("refused", refusal<HostException.Refused> { station.nextAlarms(-1) })
        assertEquals("Odile", station.who())
    }

    @Test
    fun `what the network and the relay refuse`() = inHouse { house ->
        val relay = house.relay()
        val desk = house.device()
        house.salon(desk, relay.url)
        val link = desk.invite()
        house.device().join(link, "basin")
        assertEquals("pairing", refusal<HostException.Network> { house.device().join(link, "thief") })
        val unused = desk.invite()
        relay.kill()
        assertEquals("unreachable", refusal<HostException.Network> { house.device().join(unused, "chair") })
    }

    @Test
    fun `what the device refuses`() = inHouse { house ->
        val folder = house.folder()
        val device = house.device(folder)
        house.salon(device)
        assertEquals("in-use", refusal<HostException.Device> { open(folder.toString(), HostServices()) })
        val file = Files.createFile(folder.resolve("file"))
        assertEquals("directory", refusal<HostException.Device> { house.salon(open("$file/below", HostServices())) })
        val shut = object : KeyVault {
            override fun key() = throw KeyVaultException.Unavailable("unlock the phone first")
            override fun keep(key: ByteArray) = error("none was given")
        }
        assertEquals("locked", refusal<HostException.Device> { house.salon(house.device(host = HostServices(keyVault = shut))) })
    }

    @Test
    fun `what a paused and a closed station refuses`() = inHouse { house ->
        val device = house.device()
        val station = house.salon(device)
        device.pause()
        assertEquals("paused", refusal<HostException.Closed> { station.me() })
        assertEquals("paused", refusal<HostException.Closed> { station.newClient("Rosa Vale", emptyList()) })
        device.resume()
        assertEquals("Odile", station.who())
        device.shut()
        device.shut()
        assertEquals("closed", refusal<HostException.Closed> { station.me() })
        assertEquals("closed", refusal<HostException.Closed> { device.resume() })
    }
}
