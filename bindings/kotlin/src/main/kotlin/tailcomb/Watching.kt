/** What a station tells of itself, as flows, and a station that is closed when its work is done. */
package tailcomb

import kotlinx.coroutines.NonCancellable
import kotlinx.coroutines.channels.ProducerScope
import kotlinx.coroutines.channels.awaitClose
import kotlinx.coroutines.flow.Flow
import kotlinx.coroutines.flow.callbackFlow
import kotlinx.coroutines.flow.conflate
import kotlinx.coroutines.withContext
import tailcomb.core.Alarm
import tailcomb.core.FloorView
import tailcomb.core.Status

/**
 * The floor as it stands and whenever it changes. A collector that is slow is given the newest and misses what was
 * between; one that goes ends the observation. It goes on over pauses.
 */
public fun Tailcomb.floors(): Flow<FloorView> = watch { send -> Telling(floor = send) }

/** The instants at which this station must make itself noticed, as [floors]. */
public fun Tailcomb.alarms(): Flow<List<Alarm>> = watch { send -> Telling(alarms = send) }

/** How the station stands with the others, as [floors]. */
public fun Tailcomb.statuses(): Flow<Status> = watch { send -> Telling(status = send) }

private fun <T> Tailcomb.watch(telling: (send: (T) -> Unit) -> Observer): Flow<T> =
    callbackFlow { watchUntilClosed(this@watch, telling) }.conflate()

private suspend fun <T> ProducerScope<T>.watchUntilClosed(of: Tailcomb, telling: (send: (T) -> Unit) -> Observer) {
    val observation = of.observe(telling { trySend(it) })
    awaitClose { observation.use(Observation::end) }
}

private class Telling(
    private val floor: (FloorView) -> Unit = {},
    private val alarms: (List<Alarm>) -> Unit = {},
    private val status: (Status) -> Unit = {},
) : Observer {
    override fun floor(floor: FloorView) = this.floor.invoke(floor)
    override fun alarms(alarms: List<Alarm>) = this.alarms.invoke(alarms)
    override fun status(status: Status) = this.status.invoke(status)
}

/**
 * Opens the station of a directory, lets [work] have it, and shuts it: when this returns, every file is closed, also
 * where the work failed or was cancelled.
 */
public suspend fun <R> withTailcomb(directory: String, host: HostServices = HostServices(), work: suspend (Tailcomb) -> R): R =
    open(directory, host).use { tailcomb ->
        try {
            work(tailcomb)
        } finally {
            withContext(NonCancellable) { tailcomb.shut() }
        }
    }
