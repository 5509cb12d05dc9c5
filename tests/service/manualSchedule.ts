import { setImmediate as nextTurn } from 'node:timers/promises'

/** Timers that fire when a test says so, earliest first, those due together in the order they were set. */
export function manualSchedule() {
  let nowMs = 0
  let timers: { readonly atMs: number; readonly run: () => void }[] = []

  function runNext(): boolean {
    const next = timers.reduce<(typeof timers)[number] | undefined>(
      (first, timer) => (first === undefined || timer.atMs < first.atMs ? timer : first),
      undefined,
    )
    if (next === undefined) return false
    timers = timers.filter(timer => timer !== next)
    nowMs = next.atMs
    next.run()
    return true
  }

  return {
    schedule: (afterMs: number, run: () => void): (() => void) => {
      const timer = { atMs: nowMs + afterMs, run }
      timers.push(timer)
      return () => {
        timers = timers.filter(other => other !== timer)
      }
    },
    runNext,
    runAll: () => {
      while (runNext());
    },
    /** Fires what is due until then, and lets promises have their turn before each. */
    runUntil: async (untilMs: number): Promise<void> => {
      for (;;) {
        await nextTurn()
        const dueMs = Math.min(...timers.map(timer => timer.atMs))
        if (dueMs > untilMs) break
        runNext()
      }
      nowMs = untilMs
    },
    nowMs: () => nowMs,
  }
}
