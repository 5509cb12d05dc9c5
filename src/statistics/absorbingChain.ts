/** A chain that moves between n states or is absorbed; each row of moves plus its absorption adds up to one. */
export interface AbsorbingChain {
  readonly n: number
  /** moves[i · n + j]: probability of the step from i to j. */
  readonly moves: Float64Array
  /** Probability of absorption in one step from each state. */
  readonly absorption: Float64Array
}

/**
 * Expected number of steps to absorption from every state, the absorbing step included. State elimination of
 * Grassmann, Taksar and Heyman (1985, Operations Research 33:1107): the diagonal is rebuilt as the sum of what leaves
 * the state, so nothing cancels and run lengths keep their digits however long they are, where a general solver loses
 * them near 1e12. Works in place: moves and absorption are used up.
 * @returns Infinity where absorption cannot be told from never
 */
export function expectedSteps({ n, moves, absorption }: AbsorbingChain): Float64Array {
  const steps = new Float64Array(n).fill(1)
  const leaving = new Float64Array(n)
  for (let j = n - 1; j > 0; j--) {
    const row = j * n
    const first = firstMove(moves, row, j)
    let rate = absorption[j]! + moves[row]!
    for (let m = first; m < j; m++) rate += moves[row + m]!
    leaving[j] = rate
    for (let i = 0; i < j; i++) {
      const move = moves[i * n + j]!
      if (move === 0) continue
      const share = move / rate
      const target = i * n
      moves[target] = moves[target]! + share * moves[row]!
      for (let m = first; m < j; m++) moves[target + m] = moves[target + m]! + share * moves[row + m]!
      absorption[i] = absorption[i]! + share * absorption[j]!
      steps[i] = steps[i]! + share * steps[j]!
    }
  }
  leaving[0] = absorption[0]!
  for (let j = 0; j < n; j++) {
    let sum = steps[j]!
    for (let m = 0; m < j; m++) {
      const move = moves[j * n + m]!
      if (move !== 0) sum += move * steps[m]!
    }
    steps[j] = sum / leaving[j]!
  }
  return steps
}

// Far apart states do not reach each other in one step, so most rows have zeros between state 0 and their neighbours.
function firstMove(moves: Float64Array, row: number, j: number): number {
  let m = 1
  while (m < j && moves[row + m] === 0) m++
  return m
}
