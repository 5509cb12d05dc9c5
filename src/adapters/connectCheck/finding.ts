/** What was found of one thing about one connection: one line for whoever set it up. */
export interface ConnectFinding {
  /** As the connections name it: `mqtt.scada`, `kafka`; a broker that a feed names by its url, by that. */
  readonly connection: string
  /** `wrong`: does not work, or loses something. `warning`: works, but less well, or could not be told. */
  readonly state: 'ok' | 'warning' | 'wrong'
  /** Without secrets; of what is wrong, with the next step. */
  readonly says: string
}

/** Lines of one connection, in the order they were found. */
export function findingsOf(connection: string) {
  const found: ConnectFinding[] = []
  const add = (state: ConnectFinding['state']) => (says: string) => {
    found.push({ connection, state, says })
  }
  return { found: found as readonly ConnectFinding[], ok: add('ok'), warn: add('warning'), wrong: add('wrong') }
}

export type Findings = ReturnType<typeof findingsOf>
