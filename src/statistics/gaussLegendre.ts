export interface QuadratureRule {
  /** Ascending, on −1 to 1. */
  readonly nodes: Float64Array
  readonly weights: Float64Array
  /** Barycentric weights of the polynomial through values at the nodes, up to a common factor. */
  readonly interpolation: Float64Array
}

const rules = new Map<number, QuadratureRule>()

/** Gauss–Legendre rule of n points on −1 to 1: exact for polynomials up to degree 2n − 1. Kept per n. */
export function gaussLegendre(n: number): QuadratureRule {
  let rule = rules.get(n)
  if (rule === undefined) {
    rule = computeRule(n)
    rules.set(n, rule)
  }
  return rule
}

function computeRule(n: number): QuadratureRule {
  const nodes = new Float64Array(n)
  const weights = new Float64Array(n)
  for (let i = 0; i < Math.ceil(n / 2); i++) {
    let x = roughCosine((Math.PI * (i + 0.75)) / (n + 0.5))
    let slope = 0
    for (let step = 0; step < 8; step++) {
      const legendre = evaluateLegendre(n, x)
      slope = legendre.slope
      x -= legendre.value / slope
    }
    if (2 * i + 1 === n) x = 0
    nodes[i] = -x
    nodes[n - 1 - i] = x
    weights[i] = weights[n - 1 - i] = 2 / ((1 - x * x) * slope * slope)
  }
  return { nodes, weights, interpolation: barycentricWeights(nodes) }
}

function barycentricWeights(nodes: Float64Array): Float64Array {
  return nodes.map((node, i) => nodes.reduce((weight, other, j) => (j === i ? weight : weight / (node - other)), 1))
}

function evaluateLegendre(n: number, x: number): { value: number; slope: number } {
  let previous = 1
  let value = x
  for (let degree = 2; degree <= n; degree++) {
    const next = ((2 * degree - 1) * x * value - (degree - 1) * previous) / degree
    previous = value
    value = next
  }
  return { value, slope: (n * (x * value - previous)) / (x * x - 1) }
}

// Good to 3e-5 up to π/2, enough to start Newton's method; Math.cos may differ between engines.
function roughCosine(angle: number): number {
  const s = angle * angle
  return 1 - (s / 2) * (1 - (s / 12) * (1 - (s / 30) * (1 - s / 56)))
}
