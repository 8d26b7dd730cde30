/** Names of things on the record. Each is its own type; the generated code hands them over as their text. */
package tailcomb.core

/** A document: `salon`, `shelf`, `client/<name>`, `visit/<name>`, `day/<yyyy-mm-dd>`. */
@JvmInline
public value class DocId(public val text: String) {
    override fun toString(): String = text
}

/** A thing inside a document that has a history: a timer, a formula line, a sensitivity. */
@JvmInline
public value class EntryId(public val text: String) {
    override fun toString(): String = text
}

/** One revision of an entry. */
@JvmInline
public value class RevId(public val text: String) {
    override fun toString(): String = text
}

/** A person of the salon. */
@JvmInline
public value class PersonId(public val text: String) {
    override fun toString(): String = text
}
