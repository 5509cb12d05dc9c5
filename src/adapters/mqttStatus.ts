/** The service's own status, as a connection that publishes it needs it: texts for one retained topic. */
export interface StatusSource {
  readonly topic: string
  /** The last will: what the broker is to say when we are gone without a word. */
  readonly lost: string
  /** How things stand: the birth, said at each connection. */
  readonly now: () => string
  /** The end in order. */
  readonly ended: () => string
  /** Calls with each new text. @returns what ends it */
  readonly follow: (tell: (body: string) => void) => () => void
}
