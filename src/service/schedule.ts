/** Runs a function later; 0 means after the sockets had their turn. @returns what cancels it */
export function schedule(afterMs: number, run: () => void): () => void {
  if (afterMs === 0) {
    const immediate = setImmediate(run)
    return () => clearImmediate(immediate)
  }
  const timer = setTimeout(run, afterMs)
  return () => clearTimeout(timer)
}
