import json, math, sys, numpy as np
from first_order_model import *
from independent_simulation import Machine, record_play, apex_coord
def note(*words): print(*words, file=sys.stderr)
np.set_printoptions(precision=5, suppress=True, linewidth=150)
note("== coefficients")
for s in ("525","525c","625"):
    v=v_write(s); c=MIL/v*1e6
    note(s,"v=%.3f m/s %.2f in/s  us/mil=%.6f ns/um=%.5f skew p-p us/mil=%.6f scallop sag us/mil=%.6f  ns/arcmin=%.4f"%(
        v,v/IN,c,1e-6/v*1e9,2*math.sin(math.pi/4)*c,(1-math.cos(math.pi/4))*c,1e9/(STD[s]["f"]*360*60)))
    m=v*1e-9
    note("   sagitta removed-mean peak etc; us per mil of tangential gap error = same; lines/pass=%.4f"%(STD[s]["lines_per_rev"]/4))
note("== model vs sim agreement (525, per-sample max abs diff, ns)")
th=theta_grid(16)
for (p,h) in [(0.1,0),(0,0.1),(1,0),(0,1),(-1,0.5),(1.5,-1.5),(-2,2)]:
    e=np.array(record_play(Machine(240.0),Machine(240.0,p=p,h=h),th))[0]
    v=v_write("525"); lin=(-p*MIL*np.sin(th)+h*MIL*np.cos(th))/v*1e9
    # second order term: derived
    pr,hr=p*MIL/R_TIP,h*MIL/R_TIP
    note("p=%5.2f h=%5.2f  |e|max=%.3f  max|sim-lin|=%.5f ns rms=%.5f"%(p,h,abs(e).max(),abs(e-lin).max(),np.sqrt(np.mean((e-lin)**2))))
note("== record machine offset, playback centred (second-order appears here)")
for (p,h) in [(1,0),(0,1),(1,1),(-2,2)]:
    e=np.array(record_play(Machine(240.0,p=p,h=h),Machine(240.0),th))[0]; v=v_write("525"); lin=(p*MIL*np.sin(th)-h*MIL*np.cos(th))/v*1e9
    pr,hr=p*MIL/R_TIP,h*MIL/R_TIP
    q=(pr*np.sin(th)-hr*np.cos(th))*(pr*np.cos(th)+hr*np.sin(th))/(2*math.pi*240)*1e9
    note("   p=%g h=%g max|sim-lin|=%.5f ns, after 2nd-order term %.6f ns"%(p,h,abs(e-lin).max(),abs(e-lin-q).max()))
note("== tip radius insensitivity (clamped tape): dr=0.2 mil on head 2, p=1")
e=np.array(record_play(Machine(240.0),Machine(240.0,p=1,dr=(0,0.2,0,0)),th)); note("  max diff head2-head1 %.5f ns"%abs(e[1]-e[0]).max())
e=np.array(record_play(Machine(240.0),Machine(240.0,dr=(0,0.2,0,0),draw=1.0),th)); note("  fully drawn-in, 0.2 mil: end-to-end at +-45 ~ %.3f ns; formula %.3f"%((e[1][-1]-e[1][0])*90/(90-90/16), -0.2*MIL/v_write('525')*math.pi/2*1e9))
_,st=apex_coord((R_TIP,0.),(0.,0.),R_TAPE); note("  tent strain at 2.5 mil penetration: %.5f %%"%(st*100))
note("== cancellation own recording: rec p=1,h=1 play same")
e=np.array(record_play(Machine(240.0,p=1,h=1),Machine(240.0,p=1,h=1),th)); note("  max|e| = %.2e ns"%abs(e).max())
note("== condition numbers / SE (sigma=1 ns, N=16)")
for nm,kw in [("A full",dict()),("B no rev",dict(rev=False)),("C no per-head slope",dict(per_head_slope=False)),("D minimal",dict(per_head_slope=False,rev=False))]:
    X,names,_,_=design(**kw); Xs=X/np.linalg.norm(X,axis=0); cn=np.linalg.cond(Xs); cov=np.linalg.inv(X.T@X); se=np.sqrt(np.diag(cov))
    note(nm,"cond(scaled)=%.3f cond(raw)=%.2f"%(cn,np.linalg.cond(X)),{n:round(float(x),5) for n,x in zip(names,se)})
    # step4 se
X,names,_,_=design(rev=False); cov=np.linalg.inv(X.T@X)
v=v_write("525"); k=1e-9*v/MIL
i,j=names.index("skew"),names.index("scallop"); note("corr(skew,scallop) B: %.2e"%(cov[i,j]/math.sqrt(cov[i,i]*cov[j,j])))
note("  p SE per 1 ns = %.5f mil; h SE = %.5f mil (single rev, B)"%(math.sqrt(cov[i,i])*k,math.sqrt(cov[j,j])*k))
X,names,_,_=design(); cov=np.linalg.inv(X.T@X); C=cov/np.sqrt(np.outer(np.diag(cov),np.diag(cov)))
note("A correlations |r|>0.5:"); 
for a in range(len(names)):
    for b in range(a): 
        if abs(C[a,b])>0.5: note("   ",names[b],names[a],round(C[a,b],4))
# window dependence
note("== window half-width vs SE and scallop identifiability (B)")
for hd in (40,45,50,56):
    X,names,_,_=design(half_deg=hd,rev=False); cov=np.linalg.inv(X.T@X)
    note(hd,"skew %.4f scallop %.4f cond %.2f"%(math.sqrt(cov[4,4]),math.sqrt(cov[names.index('scallop'),names.index('scallop')]),np.linalg.cond(X/np.linalg.norm(X,axis=0))))
# off-centre switching window
note("== off-centre window by delta deg (single head, [1, sin, cos]) : bias of skew per unit scallop if fitted as centred")
for d in (1,2,5):
    t=theta_grid(16); tt=t+math.radians(d); y=np.cos(tt); A=np.column_stack([np.ones(16),np.sin(t),np.cos(t)]); b=np.linalg.lstsq(A,y,rcond=None)[0]; y2=np.sin(tt); b2=np.linalg.lstsq(A,y2,rcond=None)[0]; note(d,"cos->",b.round(4)," sin->",b2.round(4))
note("== fixtures")
cases=[("F1",dict(p=1.0)),("F2",dict(h=1.0)),("F3",dict(p=-0.4,h=0.25)),("F4",dict(lag=(0.,0.5,-0.5,0.))),
       ("F5",dict(p=0.6,h=-0.8,lag=(0.2,-0.3,0.4,-0.3))),("F6",dict(dr=(0.1,-0.1,0.05,-0.05),draw=0.5)),("F7",dict(rev=(40.,-25.))),
       ("F8",dict(p=1.5,h=-1.5)),("F9",dict(p=0.6,h=-0.8,lag=(0.2,-0.3,0.4,-0.3),dr=(0.1,-0.1,0.05,-0.05),draw=0.5))]
# What is nought but for a processor's last digit is nought: 1e-10 ns is no time.
def expected(model): return {a:round(float("%.9g"%b),10)+0.0 for a,b in model.items()}
fx=[]
for s in ("525","625"):
    f=STD[s]["f"]
    for nm,kw in cases:
        e=np.array(record_play(Machine(f),Machine(f,**kw),th)).ravel()
        B=decompose(e,rev=False); A=decompose(e); Cc=decompose(e,per_head_slope=False)
        pm,hm=ph_from(B,s)
        fx.append(dict(id=nm,std=s,inputs=kw,N=16,theta_deg=[float(x) for x in np.rad2deg(th)],e_ns=[float("%.9g"%x) for x in e],
            expect_modelB=expected(B),expect_modelA=expected(A),expect_modelC=expected(Cc),p_mil=round(pm,12)+0.0,h_mil=round(hm,12)+0.0)) # below that is rounding, which every processor does in its own way
        note(s,nm,kw); note("   B: mean %.3f steps %s skew %.4f dsl %s scallop %.4f rms %.5f -> p %.6f h %.6f"%(B["mean"],[round(B[f'step{i}'],4) for i in (1,2,3,4)],B["skew"],[round(B[f'dslope{i}'],4) for i in (1,2,3,4)],B["scallop"],B["resid_rms"],pm,hm))
        if kw.get("rev") : note("   C:",{a:round(b,4) for a,b in Cc.items()}); note("   A:",{a:round(b,4) for a,b in A.items()})
json.dump(fx,sys.stdout,indent=1)
# Monte Carlo
rng=np.random.default_rng(1); e0=np.array(fx[4]["e_ns"]); P=[];H=[]
for _ in range(4000):
    d=decompose(e0+rng.normal(0,10,64),rev=False); a,b=ph_from(d,"525"); P.append(a);H.append(b)
note("MC sigma=10ns 525 F5: p %.5f+-%.5f h %.5f+-%.5f"%(np.mean(P),np.std(P),np.mean(H),np.std(H)))
