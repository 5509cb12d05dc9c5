import { setTimeout as wait } from 'node:timers/promises'

/** Waits until a condition holds; the deadline is there to end a broken test, never to judge speed. */
export async function eventually(
  what: string,
  condition: () => boolean | Promise<boolean>,
  deadlineMs = 60_000,
): Promise<void> {
  const end = Date.now() + deadlineMs
  while (!(await condition())) {
    if (Date.now() > end) throw new Error(`waited in vain: ${what}`)
    await wait(10)
  }
}
