const CLOSE_DEADLINE_MS = 3_000

/**
 * Ends the process when everything is closed, or cannot be in time: the Kafka client connects again by itself when
 * something that was under way sends after the end, and nothing closes such a connection.
 */
export async function endProcess(code: number, closing: Promise<void>): Promise<number> {
  const deadline = new Promise<void>(resolve => {
    setTimeout(resolve, CLOSE_DEADLINE_MS)
  })
  await Promise.race([closing, deadline])
  return process.exit(code)
}
