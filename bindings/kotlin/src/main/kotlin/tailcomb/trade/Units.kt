/** The units of the trade. Each is its own type; the generated code hands them over as the whole numbers that they hold. */
package tailcomb.trade

/** A weight, in whole milligrams, from 0. */
@JvmInline
public value class Grams(public val milligrams: Long) : Comparable<Grams> {
    init {
        require(milligrams >= 0) { "a weight is not less than nothing" }
    }

    override fun compareTo(other: Grams): Int = milligrams.compareTo(other.milligrams)
}

/** So many whole grams: `40.grams`. */
public val Int.grams: Grams get() = Grams(Math.multiplyExact(toLong(), 1000L))

/** The strength of peroxide in volumes, in whole thousandths of a volume: 20 vol are 20 000. */
@JvmInline
public value class Volumes(public val thousandths: Long) : Comparable<Volumes> {
    init {
        require(thousandths in 0..UInt.MAX_VALUE.toLong()) { "no strength is less than water's" }
    }

    override fun compareTo(other: Volumes): Int = thousandths.compareTo(other.thousandths)
}

/** So many whole volumes: `20.volumes`. */
public val Int.volumes: Volumes get() = Volumes(Math.multiplyExact(toLong(), 1000L))

/** A percentage, in whole ten-thousandths of one per cent: 12 % are 120 000. */
@JvmInline
public value class Percent(public val tenThousandths: Long) : Comparable<Percent> {
    override fun compareTo(other: Percent): Int = tenThousandths.compareTo(other.tenThousandths)
}

/** A level of depth, in whole tenths: level 7 is 70. */
@JvmInline
public value class Level(public val tenths: Long) : Comparable<Level> {
    override fun compareTo(other: Level): Int = tenths.compareTo(other.tenths)
}

/** A length of hair, in whole micrometres. */
@JvmInline
public value class Micrometres(public val micrometres: Long) : Comparable<Micrometres> {
    override fun compareTo(other: Micrometres): Int = micrometres.compareTo(other.micrometres)
}
