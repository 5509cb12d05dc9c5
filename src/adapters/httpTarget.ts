import type { Target } from './sayConnectionError.js'

/** Host and port of a web address, as they may stand in a log: without its path and query, which may hold a secret. */
export function httpTarget(url: string): Target {
  const { hostname, port, protocol } = new URL(url)
  const tls = protocol === 'https:'
  return { host: hostname.replace(/^\[(.*)\]$/, '$1'), port: Number(port === '' ? (tls ? 443 : 80) : port), tls }
}
