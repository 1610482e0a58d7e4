/** An air-driven plunger pump: it pushes, returns, pushes again, and stalls when water and air forces balance. */
export interface PumpSettings {
  /** ml swept in one stroke. */
  readonly strokeVolume: number;
  /** s that a push takes without back pressure; it slows toward the stall pressure. */
  readonly pushTime: number;
  /** s for the return; the interval between strokes is both together. */
  readonly returnTime: number;
  /** bar at which the pump stops by itself. */
  readonly stallPressure: number;
  /** ml that run back through the check valve at the end of each stroke. */
  readonly strokeLoss: number;
  /** ml that run back when the pump is stopped (a worn outlet valve), and the s that it takes. */
  readonly stopLoss: number;
  readonly stopLossTime: number;
}

/** One push that delivered water. Times in s, volume in ml. */
export interface Stroke {
  readonly start: number;
  end: number;
  volume: number;
}

/** s in which the check valve lets the stroke loss back. */
const valveTime = 0.05;
/** Chamber volume relative to the stroke volume: its water must be compressed before any is delivered. */
const chamber = 1.5;
/** Compressibility of water, 1/bar, for the chamber alone. */
const chamberCompressibility = 4.2e-5;

/** The pump as a stepped machine; `step` returns the net flow into the bench. */
export class Pump {
  readonly strokes: Stroke[] = [];
  private position = 0;
  private returning = 0;
  private losing = 0;
  private stopping = 0;
  private wasOn = false;
  private current: Stroke | null = null;

  private readonly settings: PumpSettings;

  constructor(settings: PumpSettings) {
    // Copied field by field: the inner loop then sees objects of one shape only.
    const { strokeVolume, pushTime, returnTime, stallPressure, strokeLoss, stopLoss, stopLossTime } = settings;
    this.settings = { strokeVolume, pushTime, returnTime, stallPressure, strokeLoss, stopLoss, stopLossTime };
  }

  /** Complete strokes so far. */
  completed = 0;

  /** Is water still moving through the pump, into the bench or back? */
  get busy(): boolean {
    return this.losing > 0 || this.stopping > 0;
  }

  /** Advances `dt` seconds at time `time` (s) against `pressure` (bar); returns ml/s, negative while water runs back. */
  step(time: number, dt: number, on: boolean, pressure: number): number {
    const s = this.settings;
    if (this.wasOn && !on) {
      this.endStroke(time);
      this.stopping = s.stopLoss > 0 ? s.stopLossTime : 0;
      this.position = 0;
      this.returning = 0;
    }
    this.wasOn = on;
    let flow = 0;
    if (this.losing > 0) {
      this.losing -= dt;
      flow -= s.strokeLoss / valveTime;
    }
    if (this.stopping > 0) {
      this.stopping -= dt;
      flow -= s.stopLoss / s.stopLossTime;
    }
    if (!on) return flow;
    if (this.returning > 0) {
      this.returning -= dt;
      return flow;
    }
    const x = this.position;
    // The piston starts and ends gently and loses speed as the force left over shrinks.
    const speed = (Math.max(0, 1 - pressure / s.stallPressure) * (0.35 + 2.6 * x * (1 - x))) / s.pushTime;
    const moved = Math.min(speed * dt, 1 - x);
    this.position = x + moved;
    if (this.position > chamber * chamberCompressibility * pressure) {
      if (this.current === null) {
        this.current = { start: time, end: time, volume: 0 };
        this.strokes.push(this.current);
      }
      const volume = moved * s.strokeVolume;
      this.current.volume += volume;
      this.current.end = time + dt;
      flow += volume / dt;
    }
    if (this.position >= 1) {
      this.endStroke(time + dt);
      this.completed++;
      this.position = 0;
      this.returning = s.returnTime;
      this.losing = s.strokeLoss > 0 ? valveTime : 0;
    }
    return flow;
  }

  private endStroke(time: number): void {
    if (this.current !== null) this.current.end = time;
    this.current = null;
  }
}
